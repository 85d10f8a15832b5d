BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'underbench','0001_initial','2026-11-29 06:01:40.222111+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'underbench','0002_alerts','2026-11-29 06:01:40.226534+00:00');
INSERT INTO "_sqlite_migrations" VALUES(3,'underbench','0005_ensemble','2026-11-29 06:01:40.227293+00:00');
INSERT INTO "_sqlite_migrations" VALUES(4,'underbench','0004_readings','2026-11-29 06:01:40.229044+00:00');
INSERT INTO "_sqlite_migrations" VALUES(5,'underbench','0003_sources','2026-11-29 06:01:40.232033+00:00');
INSERT INTO "_sqlite_migrations" VALUES(6,'underbench','0006_learning','2026-11-29 06:01:40.234383+00:00');
INSERT INTO "_sqlite_migrations" VALUES(7,'underbench','0007_page','2026-11-29 06:01:40.234775+00:00');
INSERT INTO "_sqlite_migrations" VALUES(8,'underbench','0008_undo','2026-11-29 06:01:40.236817+00:00');
INSERT INTO "_sqlite_migrations" VALUES(9,'underbench','0009_past_days','2026-11-29 06:01:40.237345+00:00');
CREATE TABLE checkpoint (
            tree TEXT NOT NULL,
            day INTEGER NOT NULL,
            at INTEGER NOT NULL,
            stamp TEXT NOT NULL,
            state TEXT NOT NULL,
            PRIMARY KEY (tree, day)
        ) STRICT;
INSERT INTO "checkpoint" VALUES('Ember',19836,1713830400,'3:26a616276d105fca','{"ball_c": [[6.6470245842761475, 7.429346858757084]], "wetness": [0.9996665769843107], "water_left": [0.9996665769843107], "water_l": [0.9596799139049382], "canopy_mm": [0.0], "cover_c": [7.0], "bag_c": [7.0], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 208.24966666666668, "chill_days": 120.0, "root_warmth_cd": 314.1173089076798, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 182.81225, "pace": 1.0, "faded": 0.9585054320620426, "ten_days_c": 10.729734747181482, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Heath',19836,1713830400,'3:8430826897e4c619','{"ball_c": [[7.91942144390052, 9.39857413738533]], "wetness": [0.999834284095312], "water_left": [0.999834284095312], "water_l": [2.1596420536458742], "canopy_mm": [0.0], "cover_c": [7.0], "bag_c": [7.0], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 208.24966666666668, "chill_days": 120.0, "root_warmth_cd": 40.725207522355106, "root_day_cd": 0.0, "taken_before_s": 1713366600.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.9585054320620426, "ten_days_c": 10.729734747181482, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Lane',19836,1713830400,'3:cd16537f254de34c','{"ball_c": [[7.223484065634693, 8.310154974447308]], "wetness": [0.9997092743703456], "water_left": [0.9997092743703456], "water_l": [1.4395813550932977], "canopy_mm": [0.0], "cover_c": [7.0], "bag_c": [7.0], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 208.24966666666668, "chill_days": 120.0, "root_warmth_cd": 316.72626563096946, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 182.81225, "pace": 1.0, "faded": 0.9585054320620426, "ten_days_c": 10.729734747181482, "moss_left": 0.03937574999999982}');
INSERT INTO "checkpoint" VALUES('Stump',19836,1713830400,'3:ae8666a10b54d6d2','{"ball_c": [[11.595871288282147, 15.564063759895609]], "wetness": [0.9999430033333289], "water_left": [0.9999430033333289], "water_l": [14.399179247999934], "canopy_mm": [0.0], "cover_c": [7.0], "bag_c": [5.298027550573943], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 425.34746201801283, "chill_days": 120.0, "root_warmth_cd": 331.47380899074426, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 368.3207695269881, "pace": 1.5830640168960262, "faded": 0.9999867953476912, "ten_days_c": 10.729734747181482, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Alder',19836,1713830400,'3:b67cdc697004ec25','{"ball_c": [[10.05204658708096, 13.034824748292536]], "wetness": [0.9999430033333289], "water_left": [0.9999430033333289], "water_l": [14.399179247999934], "canopy_mm": [0.0], "cover_c": [7.0], "bag_c": [5.1325998924716805], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 274.9832836159157, "chill_days": 120.0, "root_warmth_cd": 204.28193695474758, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 238.97412317371553, "pace": 1.2751486375975343, "faded": 0.9951528693643766, "ten_days_c": 10.729734747181482, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Pine',19836,1713830400,'3:0502ac7db754521f','{"ball_c": [[6.305984771393762, 6.918832759356439]], "wetness": [0.9995798583583002], "water_left": [0.9995798583583002], "water_l": [0.7196974980179761], "canopy_mm": [0.0], "cover_c": [7.0], "bag_c": [7.0], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 208.24966666666668, "chill_days": 120.0, "root_warmth_cd": 313.2343690264588, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.9585054320620426, "ten_days_c": 10.729734747181482, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Rill',19836,1713830400,'3:889a9223792e61d3','{"ball_c": [[13.587116392408168, 14.085616345936293]], "wetness": [1.0], "water_left": [1.0], "water_l": [1.92], "canopy_mm": [0.0], "cover_c": [12.876133657750398], "bag_c": [12.876133657750398], "deep_c": [10.729734747181482], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 211.51458400226312, "chill_days": 120.0, "root_warmth_cd": 315.5956941954966, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 182.81225, "pace": 1.0, "faded": 0.9624279695422175, "ten_days_c": 10.729734747181482, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Ember',19837,1713916800,'3:26a616276d105fca','{"ball_c": [[0.22897225577109825, 1.0171746449687626]], "wetness": [1.0], "water_left": [1.0], "water_l": [0.96], "canopy_mm": [0.0], "cover_c": [0.5], "bag_c": [0.5], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 211.54654166666668, "chill_days": 120.0, "root_warmth_cd": 320.1354208010911, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 182.81225, "pace": 1.0, "faded": 0.9620465181257575, "ten_days_c": 10.500637890736478, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Heath',19837,1713916800,'3:8430826897e4c619','{"ball_c": [[1.5970454721752834, 3.099559948666763]], "wetness": [1.0], "water_left": [1.0], "water_l": [2.16], "canopy_mm": [0.0], "cover_c": [0.5], "bag_c": [0.5], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 211.54654166666668, "chill_days": 120.0, "root_warmth_cd": 46.85038871329093, "root_day_cd": 0.0, "taken_before_s": 1713366600.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.9620465181257575, "ten_days_c": 10.500637890736478, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Lane',19837,1713916800,'3:cd16537f254de34c','{"ball_c": [[0.8422979227390277, 1.939494819122217]], "wetness": [1.0], "water_left": [1.0], "water_l": [1.44], "canopy_mm": [0.0], "cover_c": [0.5], "bag_c": [0.5], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 211.54654166666668, "chill_days": 120.0, "root_warmth_cd": 322.7913907088172, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 182.81225, "pace": 1.0, "faded": 0.9620465181257575, "ten_days_c": 10.500637890736478, "moss_left": 0.01948512499999981}');
INSERT INTO "checkpoint" VALUES('Stump',19837,1713916800,'3:ae8666a10b54d6d2','{"ball_c": [[6.068198933034863, 10.51690483511418]], "wetness": [1.0], "water_left": [1.0], "water_l": [14.399999999999999], "canopy_mm": [0.0], "cover_c": [0.5], "bag_c": [-1.0978307756904138], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 436.7153766263821, "chill_days": 120.0, "root_warmth_cd": 338.38413550002383, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 368.3207695269881, "pace": 1.5830640168960262, "faded": 0.9999911916819803, "ten_days_c": 10.500637890736478, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Alder',19837,1713916800,'3:b67cdc697004ec25','{"ball_c": [[4.330554911693359, 7.724298073952253]], "wetness": [1.0], "water_left": [1.0], "water_l": [14.399999999999999], "canopy_mm": [0.0], "cover_c": [0.5], "bag_c": [-1.2978862437068939], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 281.0279949784862, "chill_days": 120.0, "root_warmth_cd": 208.19538962327474, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 238.97412317371553, "pace": 1.2751486375975343, "faded": 0.9959986355869009, "ten_days_c": 10.500637890736478, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Pine',19837,1713916800,'3:0502ac7db754521f','{"ball_c": [[-0.002719721798648483, 0.50888395167388]], "wetness": [1.0], "water_left": [1.0], "water_l": [0.72], "canopy_mm": [0.0], "cover_c": [0.5], "bag_c": [0.5], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 211.54654166666668, "chill_days": 120.0, "root_warmth_cd": 319.21480676816435, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.9620465181257575, "ten_days_c": 10.500637890736478, "moss_left": 0.0}');
INSERT INTO "checkpoint" VALUES('Rill',19837,1713916800,'3:889a9223792e61d3','{"ball_c": [[9.231094595113499, 9.809938632283234]], "wetness": [1.0], "water_left": [1.0], "water_l": [1.92], "canopy_mm": [0.0], "cover_c": [8.133754224364981], "bag_c": [8.133754224364981], "deep_c": [10.500637890736478], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 217.05798421903634, "chill_days": 120.0, "root_warmth_cd": 320.2524675396201, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 182.81225, "pace": 1.0, "faded": 0.9678820159725486, "ten_days_c": 10.500637890736478, "moss_left": 0.0}');
CREATE TABLE delivery (
            message TEXT NOT NULL REFERENCES message (key) ON DELETE CASCADE,
            service TEXT NOT NULL,
            attempts INTEGER NOT NULL,
            next_try INTEGER NOT NULL,
            delivered_at INTEGER, tried_at INTEGER, reason TEXT,
            PRIMARY KEY (message, service)
        ) STRICT;
CREATE TABLE duty (
            name TEXT PRIMARY KEY,
            done_at INTEGER NOT NULL
        ) STRICT;
CREATE TABLE ensemble (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            models TEXT NOT NULL,
            fetched_at INTEGER NOT NULL,
            body BLOB NOT NULL
        ) STRICT;
CREATE TABLE episode (
            tree TEXT NOT NULL,
            hazard TEXT NOT NULL,
            span_start INTEGER NOT NULL,
            span_end INTEGER NOT NULL,
            action TEXT NOT NULL,
            state TEXT NOT NULL,
            strength TEXT NOT NULL,
            told_strength TEXT,
            chance REAL NOT NULL,
            worst REAL NOT NULL,
            limit_value REAL NOT NULL,
            from_at INTEGER NOT NULL,
            until_at INTEGER NOT NULL,
            do_by INTEGER NOT NULL,
            first_seen INTEGER NOT NULL,
            told_at INTEGER,
            updated INTEGER NOT NULL, told_do_by INTEGER, told_worst REAL, told_limit REAL, told_chance REAL, remedy TEXT, into_spot TEXT, back_at INTEGER, handled_at INTEGER, reminded_at INTEGER, calm_since INTEGER, back_told_at INTEGER, asked_at INTEGER,
            PRIMARY KEY (tree, hazard, span_start)
        ) STRICT;
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1713866400,1713952800,'protect','told','danger','danger',0.95,-4.48653359363136239323e+00,-2.5,1713934800,1713938400,1713933600,1713885000,1713885000,1713933600,1713895206,-5.41925412692788555091e+00,-2.5,0.95,'Into the shed','shed',1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost on leaves or buds',1713866400,1713952800,'protect','handled','act','danger',0.75,-3.99586030623124699445e+00,-3.3,1713934800,1713934800,1713933600,1713885000,1713885000,1713933600,1713895206,-4.70971805133584453528e+00,-3.3,0.8,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,1713888000,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Lane','frost on leaves or buds',1713866400,1713952800,'protect','told','act','danger',0.75,-4.74063493203995189873e+00,-3.5,1713934800,1713934800,1713933600,1713885000,1713885000,1713933600,1713895206,-5.46793201783491511491e+00,-3.5,0.85,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Stump','frost on moving sap',1713866400,1713952800,'protect','told','act','danger',0.85,-4.89269665101362605241e+00,-4.00009689149821667797e+00,1713934800,1713934800,1713933600,1713885000,1713885000,1713933600,1713895206,-6.19683724918130351966e+00,-4.00009673135315502179e+00,0.9,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Alder','frost on moving sap',1713866400,1713952800,'protect','told','act','danger',0.8,-4.89947012284590144304e+00,-4.04401500854409,1713934800,1713934800,1713933600,1713885000,1713885000,1713933600,1713895206,-6.24952441730264141028e+00,-4.04395840691290864299e+00,0.9,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost in the root ball',1713866400,1713952800,'protect','handled','act','danger',0.35,-9.25158276079869112962e-01,-6.66666666666666740681e-01,1713934800,1713942000,1713933600,1713885000,1713885000,1713933600,1713895206,-9.06901939629292330735e-01,-6.66666666666666740681e-01,0.35,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,1713888000,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Pine','frost in the root ball',1713866400,1713952800,'protect','told','act','danger',0.3,-1.16477991533157809733e+00,-1.0,1713934800,1713938400,1713933600,1713885000,1713885000,1713933600,1713895206,-1.14323665094254,-1.0,0.35,'Down on the ground',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1713952800,1714039200,'protect','told','danger','danger',0.95,-5.22290870329545597883e+00,-2.5,1714003200,1714024800,1713981684,1713885000,1713885000,1713933600,1713895206,-5.28017875334428410383e+00,-2.5,0.95,'Into the shed','shed',1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost on leaves or buds',1713952800,1714039200,'protect','handled','act','danger',0.7,-4.68037525400699472299e+00,-3.3,1714010400,1714024800,1713981684,1713885000,1713885000,1713933600,1713895206,-5.26101760820587482925e+00,-3.3,0.65,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,1713888000,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Lane','frost on leaves or buds',1713952800,1714039200,'protect','told','danger','danger',0.9,-5.1543161549250946507e+00,-3.5,1714006800,1714021200,1713981684,1713885000,1713885000,1713933600,1713895206,-5.48974509189186,-3.5,0.85,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Stump','frost on moving sap',1713952800,1714039200,'protect','told','danger','danger',0.9,-6.04468509337114,-4.00009689149821667797e+00,1714006800,1714021200,1713981684,1713885000,1713885000,1713933600,1713895206,-6.05972882887529,-4.00009673135315502179e+00,0.9,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Alder','frost on moving sap',1713952800,1714039200,'protect','told','danger','danger',0.9,-6.05137130400346379133e+00,-4.04401500854409,1714006800,1714021200,1713981684,1713885000,1713885000,1713933600,1713895206,-6.0661432423274384007e+00,-4.04395840691290864299e+00,0.9,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost in the root ball',1713952800,1714039200,'protect','handled','act','danger',0.35,-9.2112734948742891472e-01,-6.66666666666666740681e-01,1714014000,1714028400,1713981684,1713885000,1713885000,1713933600,1713895206,-9.27040815702562581712e-01,-6.66666666666666740681e-01,0.35,'Cover with 1 layer of fleece, clear of the leaves, weighted',NULL,1714057200,1713888000,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Pine','frost in the root ball',1713952800,1714039200,'protect','foreseen','act',NULL,0.3,-1.20194366609204328355e+00,-1.0,1714017600,1714028400,1713981684,1713885000,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Stump','frost on leaves or buds',1714212000,1714298400,'protect','eased','notice',NULL,0.1,-2.81749281433976328514e+00,-2.5,1714276800,1714276800,1714241120,1713885000,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1713892200,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-2.53290726088482642808e+00,-2.5,1714359600,1714359600,1714327599,1713933600,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Stump','frost on leaves or buds',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-3.43810094737011695542e+00,-2.5,1714356000,1714363200,1714327599,1713933600,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Alder','frost on leaves or buds',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-3.55254806422192359605e+00,-2.5,1714356000,1714363200,1714327599,1713933600,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost in the root ball',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-0.94970727555949,-6.66666666666666740681e-01,1714359600,1714363200,1714327599,1713933600,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Pine','frost in the root ball',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-1.05611970864731574692e+00,-1.0,1714359600,1714363200,1714327599,1713933600,NULL,1713933600,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Stump','hot bag',1713736800,1714341600,'vent','told','danger','danger',1.0,4.43488207541536354466e+01,28.0,1713960000,1714320000,1713936600,1713885000,1713933600,1713933600,1713936600,4.43488207541536354466e+01,28.0,1.0,'Open the bag',NULL,NULL,NULL,1713933600,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Alder','hot bag',1713736800,1714341600,'vent','told','danger','danger',0.25,3.79561952069770285338e+01,28.0,1714291200,1714294800,1714287600,1713885000,1713885000,1713933600,1713936600,3.80650018170844504092e+01,28.0,0.3,'Slit the bag',NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Rill','in the dark too long',1713539400,1721315400,'light','told','act','act',1.0,1.09833333333333328598e+02,72.0,1713934800,1713934800,1713936600,1713885000,1713933600,1713933600,1713936600,1.09833333333333328598e+02,72.0,1.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Rill','frost on leaves or buds',1713866400,1713952800,'protect','told','act','danger',0.7,-4.82301713418838939873e+00,-4.0,1713934800,1713934800,1713933600,1713885000,1713885000,1713933600,1713895206,-5.55713251450849909929e+00,-4.0,0.8,NULL,'shed',1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Rill','frost on leaves or buds',1713952800,1714039200,'protect','told','act','danger',0.7,-5.50984827265323495737e+00,-4.0,1714010400,1714024800,1713981684,1713885000,1713885000,1713933600,1713895206,-6.202495383779605298e+00,-4.0,0.65,NULL,'shed',1714057200,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Lane','dry moss of a layer',1710429000,1718205000,'water','told','act','act',1.0,1.94851249999998116235e-02,0.35,1713934800,1713934800,1713936600,1713885000,1713885000,1713933600,1713898800,3.93757499999998206163e-02,0.35,1.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE forecast (
            source TEXT PRIMARY KEY,
            fetched_at INTEGER NOT NULL,
            same_since INTEGER NOT NULL,
            last_modified TEXT NOT NULL,
            expires INTEGER,
            body BLOB NOT NULL
        ) STRICT;
CREATE TABLE hour (
            at INTEGER PRIMARY KEY CHECK (at % 3600 = 0),
            air_c REAL, dew_c REAL, wind_ms REAL, gust_ms REAL, cloud REAL,
            global_wm2 REAL, diffuse_wm2 REAL, rain_mm REAL, pressure_kpa REAL, snow_m REAL
        ) STRICT;
INSERT INTO "hour" VALUES(1713718800,20.1,17.1,1.5,2.55,0.0,210.018,73.408,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713722400,19.2,16.2,1.5,2.55,0.0,29.173,26.931,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713726000,17.77,14.77,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713729600,15.906,12.906,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713733200,13.736,10.736,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713736800,11.406,8.406,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713740400,9.077,6.077,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713744000,6.906,3.906,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713747600,5.136,2.136,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713751200,3.706,0.706,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713754800,2.807,-0.193,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713758400,2.5,-0.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713762000,2.807,-0.193,1.5,2.55,0.0,28.383,26.31,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713765600,3.706,0.706,1.5,2.55,0.0,209.263,73.191,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713769200,5.136,2.136,1.5,2.55,0.0,395.841,90.382,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713772800,7.0,4.0,1.5,2.55,0.0,564.663,109.377,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713776400,9.171,6.171,1.5,2.55,0.0,702.998,127.151,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713780000,11.5,8.5,1.5,2.55,0.0,801.084,140.622,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713783600,13.829,10.829,1.5,2.55,0.0,852.124,147.855,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713787200,16.0,13.0,1.5,2.55,0.0,852.608,147.925,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713790800,17.864,14.864,1.5,2.55,0.0,802.52,140.823,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713794400,19.294,16.294,1.5,2.55,0.0,705.341,127.465,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713798000,20.193,17.193,1.5,2.55,0.0,567.839,109.765,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713801600,20.5,17.5,1.5,2.55,0.0,399.744,90.78,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713805200,20.193,17.193,1.5,2.55,0.0,213.721,73.6,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713808800,19.294,16.294,1.5,2.55,0.0,32.328,29.307,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713812400,17.864,14.864,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713816000,16.0,13.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713819600,13.829,10.829,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713823200,11.5,8.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713826800,9.171,6.171,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713830400,7.0,4.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713834000,5.23,2.23,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713837600,3.8,0.8,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713841200,2.9,-0.1,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713844800,2.594,-0.406,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713848400,2.9,-0.1,1.5,2.55,0.0,32.472,29.406,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713852000,3.8,0.8,1.5,2.55,0.0,214.141,73.489,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713855600,5.23,2.23,1.5,2.55,0.0,400.511,90.645,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713859200,7.094,4.094,1.5,2.55,0.0,569.052,109.686,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713862800,9.264,6.264,1.5,2.55,0.0,707.099,127.479,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713866400,11.594,8.594,1.5,2.55,0.0,804.921,140.948,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713870000,13.923,10.923,1.5,2.55,0.0,855.74,148.167,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713873600,16.094,13.094,1.5,2.55,0.0,856.062,148.213,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713877200,11.364,8.364,1.5,2.55,0.0,805.884,141.083,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713880800,12.794,9.794,1.5,2.55,0.0,708.69,127.693,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713884400,13.693,10.693,1.5,2.55,0.0,571.249,109.956,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713888000,14.0,11.0,1.5,2.55,0.0,403.277,90.928,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713891600,13.693,10.693,1.5,2.55,0.0,217.399,73.783,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713895200,12.794,9.794,1.5,2.55,0.0,35.53,31.588,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713898800,11.364,8.364,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713902400,9.5,6.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713906000,7.329,4.329,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713909600,5.0,2.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713913200,2.671,-0.329,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713916800,0.5,-2.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713920400,-1.364,-4.364,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713924000,-2.794,-5.794,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713927600,-3.693,-6.693,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713931200,-4.0,-7.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
CREATE TABLE journal (
            id INTEGER PRIMARY KEY,
            at INTEGER NOT NULL,
            tree TEXT NOT NULL,
            kind TEXT NOT NULL,
            entry TEXT NOT NULL
        , note INTEGER REFERENCES note (id), undone_at INTEGER) STRICT;
INSERT INTO "journal" VALUES(1,1711293000,'Stump','work','{"kind":"work","tree":"Stump","at":"2024-03-24T15:10:00Z","work":"chop","roots_pct":null,"film":null,"into":null,"makes":null,"risky":false}',1,NULL);
INSERT INTO "journal" VALUES(2,1711293000,'Alder','work','{"kind":"work","tree":"Alder","at":"2024-03-24T15:10:00Z","work":"chop","roots_pct":null,"film":null,"into":null,"makes":null,"risky":false}',2,NULL);
INSERT INTO "journal" VALUES(3,1711293000,'Stump','work','{"kind":"work","tree":"Stump","at":"2024-03-24T15:10:00Z","work":"bag","roots_pct":null,"film":null,"into":null,"makes":null,"risky":false}',3,NULL);
INSERT INTO "journal" VALUES(4,1711293000,'Alder','work','{"kind":"work","tree":"Alder","at":"2024-03-24T15:10:00Z","work":"bag","roots_pct":null,"film":null,"into":null,"makes":null,"risky":false}',4,NULL);
INSERT INTO "journal" VALUES(5,1713539400,'Stump','sighting','{"kind":"sighting","tree":"Stump","at":"2024-04-19T15:10:00Z","stage":"bud swell"}',5,NULL);
INSERT INTO "journal" VALUES(6,1713539400,'Alder','sighting','{"kind":"sighting","tree":"Alder","at":"2024-04-19T15:10:00Z","stage":"bud swell"}',6,NULL);
INSERT INTO "journal" VALUES(7,1713366600,'Heath','work','{"kind":"work","tree":"Heath","at":"2024-04-17T15:10:00Z","work":"repot","roots_pct":30.0,"film":null,"into":null,"makes":null,"risky":false}',7,NULL);
INSERT INTO "journal" VALUES(8,1710429000,'Lane','work','{"kind":"work","tree":"Lane","at":"2024-03-14T15:10:00Z","work":"start layer","roots_pct":null,"film":null,"into":null,"makes":null,"risky":false}',8,NULL);
INSERT INTO "journal" VALUES(9,1713539400,'Ember','sighting','{"kind":"sighting","tree":"Ember","at":"2024-04-19T15:10:00Z","stage":"leafing out"}',9,NULL);
INSERT INTO "journal" VALUES(10,1713539400,'Lane','sighting','{"kind":"sighting","tree":"Lane","at":"2024-04-19T15:10:00Z","stage":"leafing out"}',10,NULL);
INSERT INTO "journal" VALUES(11,1713539400,'Rill','sighting','{"kind":"sighting","tree":"Rill","at":"2024-04-19T15:10:00Z","stage":"leafing out"}',11,NULL);
INSERT INTO "journal" VALUES(12,1713539400,'Rill','move','{"kind":"move","tree":"Rill","at":"2024-04-19T15:10:00Z","spot":"shed"}',12,NULL);
INSERT INTO "journal" VALUES(13,1713888000,'Heath','handled','{"kind":"handled","tree":"Heath","at":"2024-04-23T16:00:00Z"}',13,NULL);
INSERT INTO "journal" VALUES(14,1713933600,'Lane','outcome','{"kind":"outcome","tree":"Lane","at":"2024-04-24T04:40:00Z","fate":"damaged","night":"2024-04-23","hazard":"frost on leaves or buds","limit":-3.5,"forecast":null,"chance":null,"felt":-4.657740116119385}',14,NULL);
INSERT INTO "journal" VALUES(15,1713933600,'Lane','watering','{"kind":"watering","tree":"Lane","at":"2024-04-24T04:40:00Z","moss":true}',15,1713933600);
CREATE TABLE learned (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            until INTEGER NOT NULL,
            state TEXT NOT NULL
        ) STRICT;
CREATE TABLE message (
            id INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            strength TEXT NOT NULL,
            queued_at INTEGER NOT NULL
        , kind TEXT NOT NULL DEFAULT 'advice', recipients TEXT NOT NULL DEFAULT '["keeper"]', picture TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "message" VALUES(1,'advice 2024-04-23T15:10:00Z 1','PROTECT 6 trees by 20:00 today (danger)','Frost on open leaves: air −4.0 °C, leaves −5.4 °C, limit −2.5 °C, kills from −4.5 °C at 06:00 tomorrow, harm 04:00–08:00. Clear, light wind. Frost on sap that warm days set moving: air −4.0 °C, wood −6.2 °C, limit −4.0 °C, kills from −7.1 °C at 06:00 tomorrow, harm 05:00–07:00. Clear, light wind.
Into the shed: now at top bench (1): Ember
Cover with 1 layer of fleece, clear of the leaves, weighted (the best there is, chance of harm still 55%): now at top bench (3): Lane, Stump, Heath (repot 6 days ago); now at north wall (1): Alder
Down on the ground: now at top bench (1): Pine
2 nights in a row, the last ends 09:00 Thursday: leave them in, door open by day. Back out 17:00 Thursday, shade first.
Keep Lane and Heath out of early sun until they have thawed.
Chance 95%. Forecast of 17:10 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','danger',1713885000,'advice','["keeper"]','');
INSERT INTO "message" VALUES(2,'advice 2024-04-23T15:10:00Z 2','LEAVE IN 1 tree until 17:00 Thursday (danger)','Frost on open leaves: air −4.0 °C, leaves −5.6 °C, limit −4.0 °C, kills from −7.0 °C at 06:00 tomorrow, harm 05:00–07:00. Clear, light wind.
Leave in, or bring back in: now at shed (1): Rill
2 nights in a row, the last ends 08:00 Thursday: leave them in. Back out 17:00 Thursday, shade first.
Chance 80%. Forecast of 17:10 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','danger',1713885000,'advice','["keeper"]','');
INSERT INTO "message" VALUES(3,'advice 2024-04-23T15:10:00Z 3','WATER 1 tree by 21:00 today','Moss of a layer drying out: about 4% of the water left in it.
Wet the moss of the layer through, wrap it again, and note it (watered --moss): now at top bench (1): Lane
Chance 100%. Forecast of 17:10 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','act',1713885000,'advice','["keeper"]','');
INSERT INTO "message" VALUES(4,'advice 2024-04-23T15:10:00Z 4','VENT 2 trees by 07:30 tomorrow (danger)','Bag too hot: inside the bag 44.4 °C (known to ±5 °C), limit 28.0 °C, kills from 35.0 °C at 17:00 Friday, harm from 14:00 tomorrow to 17:00 Sunday.
Open the bag: now at top bench (1): Stump
Slit the bag: now at north wall (1): Alder
Leave it so for the whole warm spell, until Sunday at least.
Chance 100%. Forecast of 17:10 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','danger',1713885000,'advice','["keeper"]','');
INSERT INTO "message" VALUES(5,'advice 2024-04-24T04:40:00Z 1','LET OUT 1 tree by 07:30 today','In leaf in the dark too long: by then for 5 days.
Out into open shade by day, back in before a cold night: now at shed (1): Rill
Chance 100%. Forecast of 06:40 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','act',1713933600,'advice','["keeper"]','');
INSERT INTO "message" VALUES(6,'reminder 2024-04-24T04:40:00Z 2','STILL TO DO: VENT 1 tree by 07:30 today (danger)','Bag too hot: inside the bag 44.3 °C (known to ±5 °C), limit 28.0 °C, kills from 35.0 °C at 17:00 Friday, harm from 14:00 today to 18:00 Sunday.
Open the bag: now at top bench (1): Stump
Leave it so for the whole warm spell, until Sunday at least.
Done already? Say so: underbench handled
Chance 100%. Forecast of 06:40 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','danger',1713933600,'reminder','["keeper"]','');
CREATE TABLE night_forecast (
            night_end INTEGER NOT NULL,
            spot TEXT NOT NULL,
            lead_h INTEGER NOT NULL,
            coldest_at INTEGER NOT NULL,
            forecast_c REAL NOT NULL,
            corrected_c REAL NOT NULL,
            features TEXT NOT NULL,
            plain TEXT NOT NULL,
            members TEXT NOT NULL,
            PRIMARY KEY (night_end, spot, lead_h)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE note (
            id INTEGER PRIMARY KEY,
            noted_at INTEGER NOT NULL,
            undone_at INTEGER,
            answered TEXT NOT NULL
        ) STRICT;
INSERT INTO "note" VALUES(1,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(2,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(3,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(4,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(5,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(6,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(7,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(8,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(9,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(10,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(11,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(12,1713107400,NULL,'[]');
INSERT INTO "note" VALUES(13,1713888000,NULL,'[{"key": ["Heath", "frost on leaves or buds", 1713866400], "before": {"state": "told", "handled_at": null}, "after": {"state": "handled", "handled_at": 1713888000}}, {"key": ["Heath", "frost in the root ball", 1713866400], "before": {"state": "told", "handled_at": null}, "after": {"state": "handled", "handled_at": 1713888000}}, {"key": ["Heath", "frost on leaves or buds", 1713952800], "before": {"state": "told", "handled_at": null}, "after": {"state": "handled", "handled_at": 1713888000}}, {"key": ["Heath", "frost in the root ball", 1713952800], "before": {"state": "told", "handled_at": null}, "after": {"state": "handled", "handled_at": 1713888000}}]');
INSERT INTO "note" VALUES(14,1713933600,NULL,'[]');
INSERT INTO "note" VALUES(15,1713933600,1713933600,'[{"key": ["Lane", "dry moss of a layer", 1710429000], "before": {"state": "told", "handled_at": null}, "after": {"state": "handled", "handled_at": 1713933600}}]');
CREATE TABLE page (name TEXT PRIMARY KEY, text TEXT NOT NULL, at INTEGER NOT NULL) STRICT;
CREATE TABLE past_day (
            day INTEGER PRIMARY KEY,
            mean_c REAL NOT NULL,
            low_c REAL NOT NULL
        ) STRICT;
CREATE TABLE place (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            words TEXT NOT NULL
        ) STRICT;
INSERT INTO "place" VALUES(1,'46.0500 14.5100 300 m');
CREATE TABLE reading (
            at INTEGER NOT NULL,
            quantity TEXT NOT NULL,
            spot TEXT NOT NULL,
            tree TEXT NOT NULL,
            source TEXT NOT NULL,
            value REAL NOT NULL,
            lowest REAL,
            PRIMARY KEY (at, quantity, spot, tree, source)
        ) STRICT, WITHOUT ROWID;
CREATE TABLE reading_file (
            path TEXT PRIMARY KEY,
            offset INTEGER NOT NULL,
            lines INTEGER NOT NULL,
            tail BLOB NOT NULL
        ) STRICT;
CREATE TABLE share (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL,
            token_hash TEXT NOT NULL UNIQUE,
            made_at INTEGER NOT NULL,
            revoked_at INTEGER
        ) STRICT;
CREATE TABLE source (
            name TEXT PRIMARY KEY,
            ask_at INTEGER,
            why TEXT NOT NULL,
            said TEXT NOT NULL
        ) STRICT;
INSERT INTO "source" VALUES('Open-Meteo',NULL,'','same');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX journal_at ON journal (at);
CREATE INDEX episode_span_end ON episode (span_end);
COMMIT;
