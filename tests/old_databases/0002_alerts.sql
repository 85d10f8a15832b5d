BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'underbench','0001_initial','2026-11-25 23:52:05.963828+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'underbench','0002_alerts','2026-11-25 23:52:05.966574+00:00');
CREATE TABLE checkpoint (
            tree TEXT NOT NULL,
            day INTEGER NOT NULL,
            at INTEGER NOT NULL,
            stamp TEXT NOT NULL,
            state TEXT NOT NULL,
            PRIMARY KEY (tree, day)
        ) STRICT;
INSERT INTO "checkpoint" VALUES('Ember',19833,1713571200,'3:8845d4b39987157d','{"ball_c": [[8.192852939362435, 8.642363516928016]], "wetness": [0.7405823690800363], "water_left": [0.7405823690800363], "water_l": [0.7109590743168348], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.005974832244648], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 7.0, "chill_days": 120.0, "root_warmth_cd": 7.718149285050412, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8406195325853076, "ten_days_c": 12.005974832244648, "moss_left": 0.969}');
INSERT INTO "checkpoint" VALUES('Heath',19833,1713571200,'3:7ff998bdd8ad2303','{"ball_c": [[8.997409717998119, 9.900658014692727]], "wetness": [0.7087606072139778], "water_left": [0.7087606072139778], "water_l": [1.5309229115821923], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.005974832244648], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 7.0, "chill_days": 120.0, "root_warmth_cd": 8.001579780820302, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8406195325853076, "ten_days_c": 12.005974832244648, "moss_left": 0.969}');
INSERT INTO "checkpoint" VALUES('Ember',19834,1713657600,'3:8845d4b39987157d','{"ball_c": [[8.193633975881726, 8.643420403078121]], "wetness": [0.8264471813272329], "water_left": [0.8264471813272329], "water_l": [0.7933892940741436], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.011379954703179], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 14.0, "chill_days": 120.0, "root_warmth_cd": 5.895853085193419, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8612207022947713, "ten_days_c": 12.011379954703179, "moss_left": 0.938}');
INSERT INTO "checkpoint" VALUES('Heath',19834,1713657600,'3:7ff998bdd8ad2303','{"ball_c": [[8.870888790856602, 9.808284264183982]], "wetness": [0.42608822360588045], "water_left": [0.42608822360588045], "water_l": [0.9203505629887018], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.011379954703179], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 14.0, "chill_days": 120.0, "root_warmth_cd": 15.9661249263775, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8612207022947713, "ten_days_c": 12.011379954703179, "moss_left": 0.938}');
INSERT INTO "checkpoint" VALUES('Ember',19835,1713744000,'3:8845d4b39987157d','{"ball_c": [[8.146460859923305, 8.601902246476397]], "wetness": [0.5638120691754749], "water_left": [0.5638120691754749], "water_l": [0.5412595864084558], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.016269690112551], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 21.0, "chill_days": 120.0, "root_warmth_cd": 13.583102812603965, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8802173675808668, "ten_days_c": 12.016269690112551, "moss_left": 0.9069999999999999}');
INSERT INTO "checkpoint" VALUES('Heath',19835,1713744000,'3:7ff998bdd8ad2303','{"ball_c": [[8.732261023355557, 9.71378573052793]], "wetness": [0.7689512747139535], "water_left": [0.7689512747139535], "water_l": [1.6609347533821397], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.016269690112551], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 21.0, "chill_days": 120.0, "root_warmth_cd": 24.023698093468493, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8802173675808668, "ten_days_c": 12.016269690112551, "moss_left": 0.9069999999999999}');
INSERT INTO "checkpoint" VALUES('Ember',19836,1713830400,'3:8845d4b39987157d','{"ball_c": [[8.069399980509171, 8.535812192490972]], "wetness": [0.34305952035992704], "water_left": [0.34305952035992704], "water_l": [0.32933713954552996], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.020693181450097], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 28.0, "chill_days": 120.0, "root_warmth_cd": 21.3772039283442, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8975157809083113, "ten_days_c": 12.020693181450097, "moss_left": 0.8759999999999999}');
INSERT INTO "checkpoint" VALUES('Heath',19836,1713830400,'3:7ff998bdd8ad2303','{"ball_c": [[8.903333633902484, 9.8352164975444]], "wetness": [0.4765496731018124], "water_left": [0.4765496731018124], "water_l": [1.0293472938999149], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.020693181450097], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 28.0, "chill_days": 120.0, "root_warmth_cd": 31.98278207890633, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8975157809083113, "ten_days_c": 12.020693181450097, "moss_left": 0.8759999999999999}');
INSERT INTO "checkpoint" VALUES('Ember',19837,1713916800,'3:8845d4b39987157d','{"ball_c": [[8.000266010352496, 8.47995477381879]], "wetness": [0.20230097360058735], "water_left": [0.20230097360058735], "water_l": [0.19420893465656386], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.02469488583186], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 35.0, "chill_days": 120.0, "root_warmth_cd": 29.23902193292478, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.9130642288178734, "ten_days_c": 12.02469488583186, "moss_left": 0.8449999999999999}');
INSERT INTO "checkpoint" VALUES('Heath',19837,1713916800,'3:7ff998bdd8ad2303','{"ball_c": [[8.762448048863911, 9.737240193451544]], "wetness": [0.25120181070063174], "water_left": [0.25120181070063174], "water_l": [0.5425959111133646], "canopy_mm": [0.0], "cover_c": [9.5], "bag_c": [9.5], "deep_c": [12.02469488583186], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 35.0, "chill_days": 120.0, "root_warmth_cd": 40.04705598341859, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.9130642288178734, "ten_days_c": 12.02469488583186, "moss_left": 0.8449999999999999}');
CREATE TABLE delivery (
            message TEXT NOT NULL REFERENCES message (key) ON DELETE CASCADE,
            service TEXT NOT NULL,
            attempts INTEGER NOT NULL,
            next_try INTEGER NOT NULL,
            delivered_at INTEGER, tried_at INTEGER, reason TEXT,
            PRIMARY KEY (message, service)
        ) STRICT;
INSERT INTO "delivery" VALUES('advice 2024-04-23T15:00:00Z 1','2f59e07fc092',1,1713884460,NULL,1713884400,'not reached, or it refused');
CREATE TABLE duty (
            name TEXT PRIMARY KEY,
            done_at INTEGER NOT NULL
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
INSERT INTO "episode" VALUES('Ember','frost on moving sap',1713952800,1714039200,'protect','handled','act','danger',0.5,-6.55252561119950449608e+00,-5.69660053266059307475e+00,1714010400,1714021200,1713981684,1713884400,1713884400,1713970800,1713895206,-6.54201011614044514175e+00,-5.39097233891402538574e+00,0.6,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1713952800,1714039200,'protect','handled','danger','danger',0.95,-3.44962176099239536952e+00,-6.66666666666666740681e-01,1714006800,1714028400,1713981684,1713884400,1713884400,1713970800,1713895206,-3.63114352176246546477e+00,-6.66666666666666740681e-01,0.9,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on moving sap',1714039200,1714125600,'protect','handled','act','danger',0.5,-7.25797070406872535386e+00,-5.69660053266059307475e+00,1714096800,1714111200,1714068163,1713884400,1713884400,1713970800,1713895206,-7.39311970614392066636e+00,-5.69660053266059307475e+00,0.5,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714039200,1714125600,'protect','handled','danger','danger',0.95,-3.67446567010757885185e+00,-6.66666666666666740681e-01,1714086000,1714118400,1714068163,1713884400,1713884400,1713970800,1713895206,-3.63242603731033764091e+00,-6.66666666666666740681e-01,0.95,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on moving sap',1714125600,1714212000,'protect','handled','act','danger',0.45,-7.24849147840301188949e+00,-5.99583483114049720086e+00,1714190400,1714190400,1714154642,1713884400,1713884400,1713970800,1713895206,-7.38115472837249431137e+00,-5.99583483114049720086e+00,0.45,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714125600,1714212000,'protect','handled','danger','danger',0.95,-3.51203840694662572374e+00,-6.66666666666666740681e-01,1714186800,1714197600,1714154642,1713884400,1713884400,1713970800,1713895206,-3.55724922403873256016e+00,-6.66666666666666740681e-01,0.95,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on moving sap',1714212000,1714298400,'protect','handled','act','danger',0.45,-7.19371132900657705988e+00,-6.28880899785303881799e+00,1714269600,1714276800,1714241120,1713884400,1713884400,1713970800,1713895206,-7.31195597698631338801e+00,-6.28880899785303881799e+00,0.45,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714212000,1714298400,'protect','handled','danger','danger',0.8,-4.21838435565579406016e+00,-6.66666666666666740681e-01,1714258800,1714291200,1714241120,1713884400,1713884400,1713970800,1713895206,-4.2137201304837068605e+00,-6.66666666666666740681e-01,0.8,'Down on the ground',NULL,1714287600,1713884400,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on moving sap',1714298400,1714384800,'protect','foreseen','act',NULL,0.35,-8.51500043419755137108e+00,-6.57565399789795357321e+00,1714352400,1714366800,1714327599,1713970800,NULL,1713970800,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714298400,1714384800,'protect','foreseen','danger',NULL,0.9,-4.02118155142472843976e+00,-6.66666666666666740681e-01,1714348800,1714374000,1714327599,1713970800,NULL,1713970800,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost in the root ball',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-7.02851618670422340073e+00,-6.0,1714356000,1714363200,1714327599,1713970800,NULL,1713970800,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1713866400,1713952800,'protect','over','act','danger',0.7,-1.45136238527176364421e+00,-6.66666666666666740681e-01,1713924000,1713942000,1713895206,1713884400,1713884400,1713970800,1713895206,-1.45136238527176364421e+00,-6.66666666666666740681e-01,0.7,'Down on the ground',NULL,1714287600,1713884400,NULL,1713970800,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on moving sap',1713866400,1713952800,'protect','over','act','danger',0.6,-6.23267365884659252373e+00,-5.39097233891402538574e+00,1713924000,1713931200,1713895206,1713884400,1713884400,1713970800,1713895206,-6.23267365884659252373e+00,-5.39097233891402538574e+00,0.6,'Down on the ground',NULL,1714287600,1713884400,NULL,1713970800,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost in the root ball',1714212000,1714298400,'protect','eased','notice',NULL,0.1,-6.0392763294856415257e+00,-6.0,1714276800,1714276800,1714241120,1713884400,NULL,1713970800,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,1713970800,NULL,NULL);
CREATE TABLE forecast (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            fetched_at INTEGER NOT NULL,
            body BLOB NOT NULL
        ) STRICT;
CREATE TABLE hour (
            at INTEGER PRIMARY KEY CHECK (at % 3600 = 0),
            air_c REAL, dew_c REAL, wind_ms REAL, gust_ms REAL, cloud REAL,
            global_wm2 REAL, diffuse_wm2 REAL, rain_mm REAL, pressure_kpa REAL, snow_m REAL
        ) STRICT;
INSERT INTO "hour" VALUES(1713830400,9.5,6.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713834000,8.464,5.464,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713837600,7.67,4.67,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713841200,7.17,4.17,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713844800,7.0,4.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713848400,7.17,4.17,1.5,2.55,0.0,32.472,29.406,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713852000,7.67,4.67,1.5,2.55,0.0,214.141,73.489,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713855600,8.464,5.464,1.5,2.55,0.0,400.511,90.645,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713859200,9.5,6.5,1.5,2.55,0.0,569.052,109.686,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713862800,10.706,7.706,1.5,2.55,0.0,707.099,127.479,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713866400,12.0,9.0,1.5,2.55,0.0,804.921,140.948,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713870000,13.294,10.294,1.5,2.55,0.0,855.74,148.167,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713873600,14.5,11.5,1.5,2.55,0.0,856.062,148.213,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713877200,15.536,12.536,1.5,2.55,0.0,805.884,141.083,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713880800,16.33,13.33,1.5,2.55,0.0,708.69,127.693,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713884400,16.83,13.83,1.5,2.55,0.0,571.249,109.956,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713888000,17.0,14.0,1.5,2.55,0.0,403.277,90.928,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713891600,16.83,13.83,1.5,2.55,0.0,217.399,73.783,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713895200,16.33,13.33,1.5,2.55,0.0,35.53,31.588,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713898800,15.536,12.536,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713902400,14.5,11.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713906000,13.294,10.294,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713909600,12.0,9.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713913200,10.706,7.706,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713916800,9.5,6.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713920400,-3.536,-6.536,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713924000,-4.33,-7.33,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713927600,-4.83,-7.83,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713931200,-5.0,-8.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713934800,-4.83,-7.83,1.5,2.55,0.0,36.611,32.322,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713938400,-4.33,-7.33,1.5,2.55,0.0,218.942,73.771,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713942000,-3.536,-6.536,1.5,2.55,0.0,405.099,90.902,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713945600,-2.5,-5.5,1.5,2.55,0.0,573.357,109.991,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713949200,-1.294,-4.294,1.5,2.55,0.0,711.119,127.802,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713952800,0.0,-3.0,1.5,2.55,0.0,808.681,141.269,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713956400,1.294,-1.706,1.5,2.55,0.0,859.284,148.474,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713960000,2.5,-0.5,1.5,2.55,0.0,859.452,148.498,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713963600,3.536,0.536,1.5,2.55,0.0,809.191,141.341,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713967200,4.33,1.33,1.5,2.55,0.0,711.99,127.919,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713970800,4.83,1.83,1.5,2.55,0.0,574.617,110.146,0.0,97.8037,0.0);
CREATE TABLE journal (
            id INTEGER PRIMARY KEY,
            at INTEGER NOT NULL,
            tree TEXT NOT NULL,
            kind TEXT NOT NULL,
            entry TEXT NOT NULL
        ) STRICT;
INSERT INTO "journal" VALUES(1,1713607200,'Ember','work','{"kind":"work","tree":"Ember","at":"2024-04-20T10:00:00Z","work":"repot","roots_pct":30.0,"film":null,"into":null,"makes":null,"risky":false}');
INSERT INTO "journal" VALUES(2,1713693600,'Heath','watering','{"kind":"watering","tree":"Heath","at":"2024-04-21T10:00:00Z","moss":false}');
INSERT INTO "journal" VALUES(3,1713884400,'Ember','handled','{"kind":"handled","tree":"Ember","at":"2024-04-23T15:00:00Z"}');
INSERT INTO "journal" VALUES(4,1795650726,'Ember','outcome','{"kind":"outcome","tree":"Ember","at":"2026-11-25T23:52:06Z","fate":"fine","night":"2024-04-23","hazard":"frost in the root ball","limit":-0.6666666666666667,"forecast":-1.4513623852717636,"chance":0.7,"felt":-0.9482612609863281}');
CREATE TABLE message (
            id INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            strength TEXT NOT NULL,
            queued_at INTEGER NOT NULL
        , kind TEXT NOT NULL DEFAULT 'advice', recipients TEXT NOT NULL DEFAULT '["keeper"]', picture TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "message" VALUES(1,'advice 2024-04-23T15:00:00Z 1','PROTECT 1 tree by 20:00 today (danger)','Frost in the root balls: root ball''s edge −4.2 °C, limit −0.7 °C, kills from −3.7 °C at 06:00 Sunday, harm 05:00–08:00. Frost on sap that warm days set moving: air −5.0 °C, wood −6.2 °C, limit −5.4 °C at 06:00 tomorrow, harm 04:00–06:00. Clear, light wind.
Down on the ground (the best there is, chance of harm still 60%): now at top bench (1): Ember (repot 3 days ago)
5 nights in a row, the last ends 08:00 Sunday: leave them in. Back out not before 09:00 Sunday, as far as the forecast reaches: look again then.
Chance 80%. Forecast of 17:00 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','danger',1713884400,'advice','["keeper"]','');
CREATE TABLE place (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            words TEXT NOT NULL
        ) STRICT;
INSERT INTO "place" VALUES(1,'46.0500 14.5100 300 m');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX journal_at ON journal (at);
CREATE INDEX episode_span_end ON episode (span_end);
COMMIT;
