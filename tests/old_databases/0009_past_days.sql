BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'underbench','0001_initial','2026-11-26 12:14:48.729461+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'underbench','0002_alerts','2026-11-26 12:14:48.732968+00:00');
INSERT INTO "_sqlite_migrations" VALUES(3,'underbench','0005_ensemble','2026-11-26 12:14:48.733477+00:00');
INSERT INTO "_sqlite_migrations" VALUES(4,'underbench','0004_readings','2026-11-26 12:14:48.734579+00:00');
INSERT INTO "_sqlite_migrations" VALUES(5,'underbench','0003_sources','2026-11-26 12:14:48.736630+00:00');
INSERT INTO "_sqlite_migrations" VALUES(6,'underbench','0006_learning','2026-11-26 12:14:48.737969+00:00');
INSERT INTO "_sqlite_migrations" VALUES(7,'underbench','0007_page','2026-11-26 12:14:48.738215+00:00');
INSERT INTO "_sqlite_migrations" VALUES(8,'underbench','0008_undo','2026-11-26 12:14:48.739494+00:00');
INSERT INTO "_sqlite_migrations" VALUES(9,'underbench','0009_past_days','2026-11-26 12:14:48.739846+00:00');
CREATE TABLE checkpoint (
            tree TEXT NOT NULL,
            day INTEGER NOT NULL,
            at INTEGER NOT NULL,
            stamp TEXT NOT NULL,
            state TEXT NOT NULL,
            PRIMARY KEY (tree, day)
        ) STRICT;
INSERT INTO "checkpoint" VALUES('Ember',19833,1713571200,'3:8845d4b39987157d','{"ball_c": [[-0.2219586855723461, -0.008823135265393186]], "wetness": [0.8319638260545813], "water_left": [0.8319638260545813], "water_l": [0.798685273012398], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.005974832244646518], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 121.0, "root_warmth_cd": 1.8228279970891736, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8014173640167364, "ten_days_c": 0.005974832244646518, "moss_left": 0.99}');
INSERT INTO "checkpoint" VALUES('Heath',19833,1713571200,'3:7ff998bdd8ad2303','{"ball_c": [[-0.12317701238083166, -0.0002532720926077418]], "wetness": [0.8084745359264626], "water_left": [0.8084745359264626], "water_l": [1.7463049976011593], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.005974832244646518], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 121.0, "root_warmth_cd": 1.7552792333764646, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.8014173640167364, "ten_days_c": 0.005974832244646518, "moss_left": 0.99}');
INSERT INTO "checkpoint" VALUES('Ember',19834,1713657600,'3:8845d4b39987157d','{"ball_c": [[-0.22201928156176326, -0.008831184202971961]], "wetness": [0.8799358523378945], "water_left": [0.8799358523378945], "water_l": [0.8447384182443787], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.011379954703178187], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 122.0, "root_warmth_cd": 1.6020784383296298, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.7846513103762188, "ten_days_c": 0.011379954703178187, "moss_left": 0.98}');
INSERT INTO "checkpoint" VALUES('Heath',19834,1713657600,'3:7ff998bdd8ad2303','{"ball_c": [[-0.13961293654239065, -0.0005495470713449172]], "wetness": [0.6185960001298669], "water_left": [0.6185960001298669], "water_l": [1.3361673602805126], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.011379954703178187], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 122.0, "root_warmth_cd": 3.5116330117408765, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.7846513103762188, "ten_days_c": 0.011379954703178187, "moss_left": 0.98}');
INSERT INTO "checkpoint" VALUES('Ember',19835,1713744000,'3:8845d4b39987157d','{"ball_c": [[-0.2356890535877902, -0.009624648794664183]], "wetness": [0.7069426511615715], "water_left": [0.7069426511615715], "water_l": [0.6786649451151087], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.01626969011255311], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 123.0, "root_warmth_cd": 3.294459440842427, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.7682360109959632, "ten_days_c": 0.01626969011255311, "moss_left": 0.97}');
INSERT INTO "checkpoint" VALUES('Heath',19835,1713744000,'3:7ff998bdd8ad2303','{"ball_c": [[-0.15917483531304463, -0.0009019252952938108]], "wetness": [0.43766109308766854], "water_left": [0.43766109308766854], "water_l": [0.9453479610693641], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.01626969011255311], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 123.0, "root_warmth_cd": 5.459448079009951, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.7682360109959632, "ten_days_c": 0.01626969011255311, "moss_left": 0.97}');
INSERT INTO "checkpoint" VALUES('Heath',19836,1713830400,'3:7ff998bdd8ad2303','{"ball_c": [[-0.18302779544454004, -0.001351571513330896]], "wetness": [0.8408992018344307], "water_left": [0.8408992018344307], "water_l": [1.8163422759623704], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.020693181450099983], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 124.0, "root_warmth_cd": 7.599665349281071, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.7521641279207338, "ten_days_c": 0.020693181450099983, "moss_left": 0.96}');
INSERT INTO "checkpoint" VALUES('Ember',19836,1713830400,'3:8845d4b39987157d','{"ball_c": [[-0.25931689203677166, -0.011022345188656437]], "wetness": [0.5323031405942332], "water_left": [0.5323031405942332], "water_l": [0.5110110149704639], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.020693181450099983], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 124.0, "root_warmth_cd": 5.171680524369837, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.7521641279207338, "ten_days_c": 0.020693181450099983, "moss_left": 0.96}');
INSERT INTO "checkpoint" VALUES('Ember',19837,1713916800,'3:8845d4b39987157d','{"ball_c": [[-0.289096749538192, -0.012821760232899097]], "wetness": [0.3811577177473176], "water_left": [0.3811577177473176], "water_l": [0.36591140903742486], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.024694885831861947], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 125.0, "root_warmth_cd": 7.2407558861862515, "root_day_cd": 0.0, "taken_before_s": 1713607200.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.736428476709003, "ten_days_c": 0.024694885831861947, "moss_left": 0.95}');
INSERT INTO "checkpoint" VALUES('Heath',19837,1713916800,'3:7ff998bdd8ad2303','{"ball_c": [[-0.1361820339719173, -0.0004724380089851552]], "wetness": [0.6482938511581021], "water_left": [0.6482938511581021], "water_l": [1.4003147185015006], "canopy_mm": [0.0], "cover_c": [-2.5], "bag_c": [-2.5], "deep_c": [0.024694885831861947], "frozen_h": [0.0], "day_sum_c": 0.0, "day_hours": 0.0, "warmth_cd": 0.0, "chill_days": 125.0, "root_warmth_cd": 9.287749446669668, "root_day_cd": 0.0, "taken_before_s": 0.0, "seen_warmth_cd": 0.0, "pace": 1.0, "faded": 0.736428476709003, "ten_days_c": 0.024694885831861947, "moss_left": 0.95}');
CREATE TABLE delivery (
            message TEXT NOT NULL REFERENCES message (key) ON DELETE CASCADE,
            service TEXT NOT NULL,
            attempts INTEGER NOT NULL,
            next_try INTEGER NOT NULL,
            delivered_at INTEGER, tried_at INTEGER, reason TEXT,
            PRIMARY KEY (message, service)
        ) STRICT;
INSERT INTO "delivery" VALUES('advice 2024-04-23T15:00:00Z 1','2f59e07fc092',2,1713938700,NULL,1713938400,'not reached, or it refused');
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
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1713866400,1713952800,'protect','told','act','danger',0.4,-2.20774339246871509345e+00,-1.8,1713942000,1713942000,1713938400,1713884400,1713884400,1713938400,1713895206,-6.1203996815364227757e+00,-1.8,1.0,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1713866400,1713952800,'protect','told','act','danger',0.6,-1.11110548469257364168e+00,-6.66666666666666740681e-01,1713942000,1713945600,1713938400,1713884400,1713884400,1713938400,1713895206,-3.01898294963601587781e+00,-6.66666666666666740681e-01,0.8,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1713952800,1714039200,'protect','told','danger','danger',1.0,-6.02652554562034659113e+00,-1.8,1714003200,1714028400,1713981684,1713884400,1713884400,1713938400,1713895206,-5.99466471722068838801e+00,-1.8,1.0,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1713952800,1714039200,'protect','told','danger','danger',0.9,-3.21917529056129358977e+00,-6.66666666666666740681e-01,1714014000,1714024800,1713981684,1713884400,1713884400,1713938400,1713895206,-3.24907870242652796477e+00,-6.66666666666666740681e-01,0.9,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1714039200,1714125600,'protect','told','danger','danger',1.0,-6.02736325213966317448e+00,-1.8,1714093200,1714111200,1714068163,1713884400,1713884400,1713938400,1713895206,-6.03965516040382333073e+00,-1.8,1.0,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714039200,1714125600,'protect','told','danger','danger',0.9,-3.31260094193375742577e+00,-6.66666666666666740681e-01,1714096800,1714114800,1714068163,1713884400,1713884400,1713938400,1713895206,-3.40667368364212475029e+00,-6.66666666666666740681e-01,0.85,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1714125600,1714212000,'protect','told','danger','danger',1.0,-5.64317861780704355112e+00,-1.8,1714168800,1714201200,1714154642,1713884400,1713884400,1713938400,1713895206,-6.4422996880096068395e+00,-1.8,0.95,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714125600,1714212000,'protect','told','danger','danger',0.95,-3.43441973782580589613e+00,-6.66666666666666740681e-01,1714186800,1714197600,1714154642,1713884400,1713884400,1713938400,1713895206,-3.48007098421634486484e+00,-6.66666666666666740681e-01,0.95,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1714212000,1714298400,'protect','told','danger','danger',1.0,-6.30930003558743468516e+00,-1.8,1714258800,1714287600,1714241120,1713884400,1713884400,1713938400,1713895206,-6.29775914584744445079e+00,-1.8,1.0,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714212000,1714298400,'protect','told','danger','danger',0.8,-4.1575390233894040648e+00,-6.66666666666666740681e-01,1714255200,1714291200,1714241120,1713884400,1713884400,1713938400,1713895206,-4.13292627290924396987e+00,-6.66666666666666740681e-01,0.8,'Down on the ground',NULL,1714287600,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost on leaves or buds',1714298400,1714384800,'protect','foreseen','danger',NULL,1.0,-6.10081418767391348012e+00,-1.8,1714345200,1714370400,1714327599,1713938400,NULL,1713938400,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Ember','frost in the root ball',1714298400,1714384800,'protect','foreseen','danger',NULL,0.85,-3.98178860327409367414e+00,-6.66666666666666740681e-01,1714348800,1714370400,1714327599,1713938400,NULL,1713938400,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "episode" VALUES('Heath','frost in the root ball',1714298400,1714384800,'protect','foreseen','notice',NULL,0.1,-6.92079199694592261948e+00,-6.0,1714356000,1714363200,1714327599,1713938400,NULL,1713938400,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE forecast (
            source TEXT PRIMARY KEY,
            fetched_at INTEGER NOT NULL,
            same_since INTEGER NOT NULL,
            last_modified TEXT NOT NULL,
            expires INTEGER,
            body BLOB NOT NULL
        ) STRICT;
INSERT INTO "forecast" VALUES('Open-Meteo',1713938400,1713884400,'',NULL,X'789CED9BCF6E1CB911C65FC510909BB7972CFEAD5C73C829400E0172108481561ADB022C8D208DEC240BBF539047D8274B7DC59EFE7ABDF6623D9700D9BE704A4D56F1EB1FABC89E3FFAF1E2FDF5F1EEF872BBBFF8E3AB5CA7505EBFBA787F78787BBA16F354A25D7BBB7FD83FD9D0C3C3F1EE7EBFBB7F46DF14ACE7E578B33BBC79F3BC3FEE9EF73787875B74A10303FF757840948B3FFFE56F17AB4BBBEB1F7E78DA7FB8F380ABFEFDFBFD87D3B51482C77F7778797AFFCFDDCBC3DD11917FF420F0B12BFF701B81F7F78FD0F7F2B4DFC93D7A7FFAF79FD071BBFFB87B3CDC3D1C7F7EF9E3DDC3EDEEF971BFBFDDC5E01DF7DF3F2F1D6F5F9E8FCF9F75DCBC3FBCDCEE6E0E1FF64FB8FA075C7B7E77783A7EBCFEB0DF3D5DDFF266FEFEFDFD4FFFF1C9EFDEBC7979FE5AEFE3D3FEE6EEF1EEB8F4DCDF7BD097A737D737FB9D753F9BEDB7FAEEAFD7DEF570F8B8BBDD3F1EDFF9F08B4F0B9E3598CBD8626A398760F886DDEA629728B473A7DDF36257A16F2DF4AD4ADF26F46D95BE769576A26F6FF4D5405FCDF4D5BEF8F6102BED22B4FBE2DBA364DA95BE51E92B89BE52E99B027D1359F544563D9355CF64D53359F54256BD90552F64D52B59F54A56BD91556F64D51B59D9DDD2B79355EF2B56BA62A52B564A561AC84A035969202B8D646521E92B64A542562A64A589AC34919526B2D24C569AC94A3359997CFA16B2824ADA64A595ACB4919536B2D24656DAC94A3B59695FB1D2152B5DB1D28595F52FACCC5E58E5101756662FACCC6EF495485FC9F4954EDF24F44D85BE49E99B85BEB9D2B704FA9644DFD2E85B037D6BA66FEDF46D91BEADD0B775FA76A16FAFF4ED2B56BA62A56415035939B6C526AB18C92A46B28A91ACA2905514B28A425696DAF44D64E54BB4D864153359C54256B190552C64152B59C54A565646F46D64E5E9B0D864153B59C5BE62A52B56BA62A5642581ACAC643B6DB2F2D45B6CB2924856226425425692C84A125949222BBB43FA66B2F2343FD985ACA4909514B2924A5652C94A2A5949232BDB8AE8DBC9CA4B6AB157AC74C54A57AC94AC5220AB14C82A05B2B26DAFD3262B2FDFC526AB2464951259A54456299155CA64953259D9164BDF4256BE552C3659A54A56A992556A64650F0AF46D648583963659E1405A6C5DB1D2152B252B6C70B4C90A1B016DB242C12CB69015128B36596101689315842E7626AB9CC92A67B2CA85ACEC98A26F252BDF6E179BAC7223ABDCC82A37B2CA9DAC7227ABDC57AC74C54AC9CAB7F6C526AB12C8AA44B22A91AC4A04ABAB2F3D2E5F7E27933DFA7F97263B2FEC354F29F94BC74BC183F8E98FB9EB3472F8C5C98AC85EFD917DFEC37BE661C36944F068C31C97E7313E7EF6F5384BD44DDBA66DD3B669FBBFD476F5CB4F292E4D1166ADB3863624B521B0BBEFFCC7DC751A39FCF2AC36CDB3B4505D7BC1C43E30BA5BF41832EEA9A7D3E579CC7058DCD30C6984DE046E0237819BC0DFB5C0AB2F7D927C19C73EBF355BB3355BF31B9BAB2F7DF97469CF8CC59F1CB7766BB7766B7FD7EDD52FBE87BFF437D25BB3355BB335BFB9B9FAEA8F77BEBEA1489F92BF4D0C3A49C5C77A5AA69EE3EB57A5E6A9E24A0B32A9F6D7AF7A8853E8F6D6B31799A2CC460DDE653B99606C99D2F0C65B58453C9D5AC6078B314D4DAC2BC994A49F738FE6999B20549E2266C9C1DEC5469F4EA73004B429A842519E14D3F5524C005EEB14AAA0C7EE10B7D1429FAA0D2D2D4E9215E1D224AD61027BE78D28C9DE72A7B3A4D6A94298C43E6916C42E435869694AC52669314E31BA54D3D15DAA2DC200AC532EAE55A7A8710C1EDEB62AB1215E9D5A338C22B62AF8355BEA7641CE119BC32954B225C707BF366D0DF8D4B7B5A934C5FC261FAA7BB4E5435AF42A53F32B30E08EAE9CE3182CB869B86BB6732EC76057900562FA8138CB14D073865A5BD8E26A2D77C1385B3A04C1743D4E36370418F50891A644AB8BAC5384178C80C44457C52721189C731DEE92B05696AA2E1253480310A4F55989906D01FD73724BDE8E3CCC365DC2D95FBA25266837B12AEA15926CD9D5D99AD1FB302479175617D568CB5D0352BE67AB868E8096F2CDA78856BAB862F954F41CB5C50A00A52EC90AA0402DB48DE9AC8E7DFE3AA566F2BBF52856BB375B7F2C258C8482EAA6B1E3169BAD76C3FE507AB35BF47861F23CB0CA4A48EC6279DDCFD3DAA6EC64B3AD3A72CC94352C71515BBE800A13B5E09008D12ED5D2E164E484BC308500DDA4D96234388719A21543C3DD881596E227A4B69124A9E748ADF656183927F8312AD229D924E2B361A3410EA43495808A37CD58EFA6A33E7A43767A87EDA8609A50AD6DDCA636E4BFF50494A4D5DC84698AAD7FFDFA0E7BF5951F71FECA2931F0D9CEE59B91214ADD2445DB2612A4445310B10745DB4A2A4A31E6365200864A195D5DD2189C6B19EE0D86C543225B782CA7C5C4E27D3B65F3CCC1595AF1A887AD799EC7EBCB67C66E062D8A458E562A11CB0E43B063D8B96287DC2CB3A218E1AEA57A3C95A1B36184955BE9E71E64099410A90DA01A66A00AC298BCFB1593235587C08CFDC30DEDA3CBCF5A0C561C24D176D9889D4CED1E9AE78A29C7319606E83394DAB68F7AB56327A4EE91A32F2B3674408EB645FA290639A59721B0613F1AC6A94BEB3C18E1E09E52F6788253DAE2471484CDD7533E4B294E2A0F242A1E383B409BA978B2DADC795EE0AE0ED24AACA5D92875EEF2B4C0D182ADD9BD6584F30B088FDBB6D99A9EA7D3961847AB452A6944AE2724BDCE445B7290F698A53A0426AF1818A2A32B681B836D731DEE2DA8C7F347228B9F11D7E6F3F8671C5DE2BF9CB740AD460FDCB199463CB7408CD55BF02F1A6CE09C9136579989967145C6C1099D3DCC44BB9671DF65842FEAE7A26D2A67D57DC6F1EF8114D9A6462DCAD0996516EA1B37D4342F2FD3A7FE4D8919BDE6D13538E2AE240FF73032BE611180011590D3E83F43A7E536F4D8D913B11D99D0848898A97A4662EF1F9B904D822D31162BB39887114FF7D0A58FC1279D524729F993A609EDFE5C6060B16EBF720A7CFE63FDED8387ADD99AADF9C6E6EACBFFE073A9F6EC1AF094BD199BB1199BB1199BB119FF63E3EAF3FFB9DD9EFAB7666BB6E61B9BAB4F9FFE0B2E7649E8');
CREATE TABLE hour (
            at INTEGER PRIMARY KEY CHECK (at % 3600 = 0),
            air_c REAL, dew_c REAL, wind_ms REAL, gust_ms REAL, cloud REAL,
            global_wm2 REAL, diffuse_wm2 REAL, rain_mm REAL, pressure_kpa REAL, snow_m REAL
        ) STRICT;
INSERT INTO "hour" VALUES(1713798000,4.83,1.83,1.5,2.55,0.0,567.839,109.765,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713801600,5.0,2.0,1.5,2.55,0.0,399.744,90.78,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713805200,4.83,1.83,1.5,2.55,0.0,213.721,73.6,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713808800,4.33,1.33,1.5,2.55,0.0,32.328,29.307,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713812400,3.536,0.536,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713816000,2.5,-0.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713819600,1.294,-1.706,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713823200,0.0,-3.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713826800,-1.294,-4.294,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713830400,-2.5,-5.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713834000,-3.536,-6.536,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713837600,-4.33,-7.33,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713841200,-4.83,-7.83,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713844800,-5.0,-8.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713848400,-4.83,-7.83,1.5,2.55,0.0,32.472,29.406,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713852000,-4.33,-7.33,1.5,2.55,0.0,214.141,73.489,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713855600,-3.536,-6.536,1.5,2.55,0.0,400.511,90.645,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713859200,-2.5,-5.5,1.5,2.55,0.0,569.052,109.686,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713862800,-1.294,-4.294,1.5,2.55,0.0,707.099,127.479,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713866400,0.0,-3.0,1.5,2.55,0.0,804.921,140.948,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713870000,1.294,-1.706,1.5,2.55,0.0,855.74,148.167,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713873600,2.5,-0.5,1.5,2.55,0.0,856.062,148.213,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713877200,3.536,0.536,1.5,2.55,0.0,805.884,141.083,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713880800,4.33,1.33,1.5,2.55,0.0,708.69,127.693,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713884400,4.83,1.83,1.5,2.55,0.0,571.249,109.956,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713888000,5.0,2.0,1.5,2.55,0.0,403.277,90.928,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713891600,4.83,1.83,1.5,2.55,0.0,217.399,73.783,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713895200,4.33,1.33,1.5,2.55,0.0,35.53,31.588,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713898800,3.536,0.536,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713902400,2.5,-0.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713906000,1.294,-1.706,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713909600,0.0,-3.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713913200,-1.294,-4.294,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713916800,-2.5,-5.5,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713920400,-3.536,-6.536,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713924000,-4.33,-7.33,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713927600,-4.83,-7.83,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713931200,-5.0,-8.0,1.5,2.55,0.0,0.0,0.0,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713934800,-4.83,-7.83,1.5,2.55,0.0,36.611,32.322,0.0,97.8037,0.0);
INSERT INTO "hour" VALUES(1713938400,-4.33,-7.33,1.5,2.55,0.0,218.942,73.771,0.0,97.8037,0.0);
CREATE TABLE journal (
            id INTEGER PRIMARY KEY,
            at INTEGER NOT NULL,
            tree TEXT NOT NULL,
            kind TEXT NOT NULL,
            entry TEXT NOT NULL
        , note INTEGER REFERENCES note (id), undone_at INTEGER) STRICT;
INSERT INTO "journal" VALUES(1,1713607200,'Ember','work','{"kind":"work","tree":"Ember","at":"2024-04-20T10:00:00Z","work":"repot","roots_pct":30.0,"film":null,"into":null,"makes":null,"risky":false}',1,NULL);
INSERT INTO "journal" VALUES(2,1713780000,'Heath','watering','{"kind":"watering","tree":"Heath","at":"2024-04-22T10:00:00Z","moss":false}',2,NULL);
INSERT INTO "journal" VALUES(3,1713693600,'Ember','sighting','{"kind":"sighting","tree":"Ember","at":"2024-04-21T10:00:00Z","stage":"leafing out"}',3,NULL);
INSERT INTO "journal" VALUES(4,1795695289,'Ember','outcome','{"kind":"outcome","tree":"Ember","at":"2026-11-26T12:14:49Z","fate":"damaged","night":"2024-04-23","hazard":"frost on leaves or buds","limit":-1.8,"forecast":-6.120399681536423,"chance":1.0,"felt":null}',4,NULL);
INSERT INTO "journal" VALUES(5,1713780000,'Ember','watering','{"kind":"watering","tree":"Ember","at":"2024-04-22T10:00:00Z","moss":false}',5,1795695289);
CREATE TABLE learned (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            until INTEGER NOT NULL,
            state TEXT NOT NULL
        ) STRICT;
INSERT INTO "learned" VALUES(1,1713866400,'{"spots": [], "xx": [[0.0, 0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0, 0.0, 0.0]], "xy": [0.0, 0.0, 0.0, 0.0, 0.0, 0.0], "yy": 0.0, "pairs": 0.0, "nights": 0.0, "last_s": 0, "recent_k": 0.0, "held": false}');
CREATE TABLE message (
            id INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            strength TEXT NOT NULL,
            queued_at INTEGER NOT NULL
        , kind TEXT NOT NULL DEFAULT 'advice', recipients TEXT NOT NULL DEFAULT '["keeper"]', picture TEXT NOT NULL DEFAULT '') STRICT;
INSERT INTO "message" VALUES(1,'advice 2024-04-23T15:00:00Z 1','PROTECT 1 tree by 20:00 today (danger)','Frost on open leaves: air −5.0 °C, leaves −6.1 °C, limit −1.8 °C, kills from −3.8 °C at 05:00 tomorrow, harm 00:00–08:00. Clear, light wind. Frost in the root balls: root ball''s edge −4.1 °C, limit −0.7 °C, kills from −3.7 °C at 06:00 Sunday, harm 05:00–08:00.
Down on the ground (the best there is, chance of harm still 100%): now at top bench (1): Ember (repot 3 days ago)
5 nights in a row, the last ends 09:00 Sunday: leave them in. Back out not before 09:00 Sunday, as far as the forecast reaches: look again then.
Chance 100%. Forecast of 17:00 today. Weather data by Open-Meteo.com (CC BY 4.0), adapted.','danger',1713884400,'advice','["keeper"]','<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 760 560" width="1080" height="796" role="img"><title>Ember: Frost, at top bench</title><style>
.paper{fill:#fff}.plot{fill:#f4f6f8}.night{fill:#d3dae2}.frame{fill:none;stroke:#5a6570}
.grid{stroke:#b4bec8;stroke-width:2}.day{stroke:#5a6570;stroke-width:3}
.mark{stroke:#111;stroke-width:6}
text{font-family:system-ui,"DejaVu Sans",sans-serif;font-size:28px;fill:#111}
.title{font-weight:bold}.heading,.name,.limit,.due{font-weight:bold}
.limit{paint-order:stroke;stroke:#fff;stroke-width:7px;stroke-linejoin:round}
.curve{fill:none;stroke-width:7;stroke-linecap:round;stroke-linejoin:round}
.harms{stroke-width:3}.kills{stroke-width:7}
.air{stroke-dasharray:1 15}.roots{stroke-dasharray:26 16}
path.air,line.air{stroke:#0072b2}path.leaf,line.leaf{stroke:#009e73}
path.roots,line.roots{stroke:#d55e00}path.water,line.water{stroke:#0072b2}
path.gust,line.gust{stroke:#111}path.band{stroke:none;fill-opacity:.2}
.air.band,text.air{fill:#0072b2}.leaf.band{fill:#009e73}text.leaf{fill:#007355}
.roots.band{fill:#d55e00}text.roots{fill:#b34f00}.water.band,text.water{fill:#0072b2}
.gust.band{fill:#111}
@media (prefers-color-scheme:dark){
.paper{fill:#15191d}.plot{fill:#2a3138}.night{fill:#0b0e11}.frame,.day{stroke:#a9b4bf}
.mark{stroke:#f2f4f6}
.grid{stroke:#4a5560}text{fill:#f2f4f6}.limit{stroke:#15191d}
path.air,line.air,path.water,line.water{stroke:#56b4e9}
path.roots,line.roots{stroke:#e69f00}path.gust,line.gust{stroke:#f2f4f6}path.band{stroke:none}
.air.band,text.air,.water.band,text.water{fill:#56b4e9}text.leaf{fill:#2fd0a2}
.roots.band,text.roots{fill:#e69f00}.gust.band{fill:#f2f4f6}
}
</style><rect class="paper" width="760" height="560"/><text class="title" x="36.0" y="60.0" style="font-size:44px">Ember</text><text class="subtitle" x="36.0" y="106.0" style="font-size:30px">Frost, at top bench</text><text class="heading" x="36.0" y="162.0">°C</text><rect class="plot" x="86.0" y="178.0" width="496.0" height="240.0"/><rect class="night" x="173.5" y="178.0" width="291.8" height="240.0"/><line class="grid" x1="86.0" y1="340.5" x2="582.0" y2="340.5"/><text class="tick" x="74.0" y="350.5" text-anchor="end">0</text><line class="grid" x1="86.0" y1="244.7" x2="582.0" y2="244.7"/><text class="tick" x="74.0" y="254.7" text-anchor="end">10</text><line class="day" x1="290.2" y1="178.0" x2="290.2" y2="418.0"/><rect class="frame" x="86.0" y="178.0" width="496.0" height="240.0"/><line class="mark" x1="173.6" y1="178.0" x2="173.6" y2="418.0"/><text class="due" x="173.6" y="162.0" text-anchor="middle">by 20:00</text><path class="leaf band" d="M115.2,263.3L144.4,289.3 173.5,293.3 202.7,307.5 231.9,315.2 261.1,326.8 290.2,340.3 319.4,351.8 348.6,361.7 377.8,369.1 406.9,377.5 436.1,380.1 465.3,381.5 494.5,379.1 523.6,368.6 552.8,336.7 582.0,318.8 582.0,346.5 552.8,371.7 523.6,405.5 494.5,409.6 465.3,414.7 436.1,412.8 406.9,406.4 377.8,399.2 348.6,386.5 319.4,373.7 290.2,360.6 261.1,348.6 231.9,337.4 202.7,324.8 173.5,320.0 144.4,309.5 115.2,285.4Z"/><path class="roots band" d="M115.2,191.6L144.4,246.2 173.5,278.3 202.7,301.0 231.9,317.7 261.1,331.2 290.2,340.3 319.4,341.3 348.6,342.3 377.8,343.6 406.9,345.0 436.1,346.4 465.3,347.6 494.5,348.4 523.6,348.7 552.8,345.9 582.0,342.4 582.0,346.0 552.8,348.6 523.6,371.4 494.5,375.5 465.3,378.2 436.1,351.9 406.9,348.0 377.8,346.1 348.6,344.3 319.4,342.8 290.2,341.7 261.1,340.8 231.9,333.6 202.7,316.5 173.5,297.3 144.4,268.6 115.2,208.6Z"/><path class="air band" d="M115.2,281.6L144.4,281.8 173.5,285.9 202.7,297.6 231.9,304.8 261.1,317.7 290.2,329.6 319.4,341.2 348.6,351.6 377.8,358.9 406.9,370.0 436.1,371.1 465.3,373.6 494.5,371.6 523.6,363.6 552.8,358.3 582.0,350.0 582.0,378.9 552.8,390.4 523.6,400.4 494.5,402.0 465.3,403.2 436.1,402.4 406.9,394.0 377.8,389.9 348.6,377.3 319.4,364.6 290.2,351.4 261.1,338.5 231.9,328.2 202.7,315.6 173.5,312.1 144.4,306.6 115.2,303.5Z"/><path class="leaf curve" d="M115.2,274.2L144.4,299.6 173.5,307.0 202.7,316.3 231.9,326.3 261.1,337.9 290.2,350.4 319.4,362.5 348.6,374.7 377.8,384.6 406.9,391.8 436.1,397.1 465.3,397.7 494.5,394.5 523.6,386.7 552.8,354.7 582.0,332.6"/><path class="roots curve" d="M115.2,199.9L144.4,258.4 173.5,287.9 202.7,309.9 231.9,325.8 261.1,339.4 290.2,341.0 319.4,341.9 348.6,343.1 377.8,344.6 406.9,346.3 436.1,347.9 465.3,349.5 494.5,367.2 523.6,362.6 552.8,348.0 582.0,344.8"/><path class="air curve" d="M115.2,292.6L144.4,294.2 173.5,299.0 202.7,306.6 231.9,316.5 261.1,328.1 290.2,340.5 319.4,352.9 348.6,364.5 377.8,374.4 406.9,382.0 436.1,386.8 465.3,388.4 494.5,386.8 523.6,382.0 552.8,374.4 582.0,364.5"/><text class="leaf name" x="596.0" y="342.6">leaf</text><text class="roots name" x="596.0" y="376.6">roots</text><text class="air name" x="596.0" y="410.6">air</text><line class="leaf harms" x1="86.0" y1="357.7" x2="582.0" y2="357.7"/><line class="leaf kills" x1="86.0" y1="376.9" x2="582.0" y2="376.9"/><line class="roots harms" x1="86.0" y1="346.9" x2="582.0" y2="346.9"/><text class="leaf limit" x="96.0" y="387.7">harms −1.8</text><text class="leaf limit" x="285.0" y="406.9">kills −3.8</text><text class="hour" x="115.2" y="456.0" text-anchor="middle">18:00</text><text class="hour" x="290.2" y="456.0" text-anchor="middle">00:00</text><text class="hour" x="465.3" y="456.0" text-anchor="middle">06:00</text><text class="date" x="188.1" y="496.0" text-anchor="middle">Tue 23 Apr</text><text class="date" x="436.1" y="496.0" text-anchor="middle">Wed 24 Apr</text></svg>
');
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
INSERT INTO "night_forecast" VALUES(1714039200,'',24,1714017600,-5.0,-5.0,'[1.0,-0.165878,0.986146,1.0,0.963677,0.7]','[-4.8,-7.2,-5.7,-3.9,-6.1,-4.4,-3.6,-4.7,-5.4,-4.8,-5.6,-3.3,-4.5,-6.1,-4.6,-5.6,-6.5,-5.9,-5.3,-5.8]','[-4.8,-7.2,-5.7,-3.9,-6.1,-4.4,-3.6,-4.7,-5.4,-4.8,-5.6,-3.3,-4.5,-6.1,-4.6,-5.6,-6.5,-5.9,-5.3,-5.8]');
INSERT INTO "night_forecast" VALUES(1714125600,'',48,1714104000,-5.0,-5.0,'[1.0,-0.182817,0.983147,1.0,0.963677,0.7]','[-4.5,-5.2,-6.7,-4.6,-7.1,-4.7,-7.3,-5.7,-7.3,-5.3,-5.9,-5.5,-3.4,-6.0,-3.9,-5.6,-3.2,-6.3,-3.6,-5.1]','[-4.5,-5.2,-6.7,-4.6,-7.1,-4.7,-7.3,-5.7,-7.3,-5.3,-5.9,-5.5,-3.4,-6.0,-3.9,-5.6,-3.2,-6.3,-3.6,-5.1]');
CREATE TABLE note (
            id INTEGER PRIMARY KEY,
            noted_at INTEGER NOT NULL,
            undone_at INTEGER,
            answered TEXT NOT NULL
        ) STRICT;
INSERT INTO "note" VALUES(1,1795695288,NULL,'[]');
INSERT INTO "note" VALUES(2,1795695288,NULL,'[]');
INSERT INTO "note" VALUES(3,1795695288,NULL,'[]');
INSERT INTO "note" VALUES(4,1795695289,NULL,'[]');
INSERT INTO "note" VALUES(5,1795695289,1795695289,'[]');
CREATE TABLE page (name TEXT PRIMARY KEY, text TEXT NOT NULL, at INTEGER NOT NULL) STRICT;
INSERT INTO "page" VALUES('ahead','{"at": "2024-04-24T06:00:00Z", "forecast_at": "2024-04-24T06:00:00Z", "attribution": "Weather data by Open-Meteo.com (CC BY 4.0), adapted", "problem": "Open-Meteo has sent the same forecast for 15 h", "estimated": [], "days": ["2024-04-24", "2024-04-25", "2024-04-26", "2024-04-27", "2024-04-28"], "air": [["5 °C", "−5 °C"], ["5 °C", "−5 °C"], ["5 °C", "−5 °C"], ["5 °C", "−5 °C"], ["5 °C", "−5 °C"]], "spots": {"top bench": [["5 °C", "−5 °C"], ["5 °C", "−5 °C"], ["5 °C", "−5 °C"], ["5 °C", "−5 °C"], ["5 °C", "−5 °C"]]}, "trees": {"Ember": {"stage": "leafing out", "open": "repot", "days": [{"what": "frost", "value": "−6.0 °C", "limit": "−1.8 °C", "chance": 1.0, "strength": "danger"}, {"what": "frost", "value": "−6.0 °C", "limit": "−1.8 °C", "chance": 1.0, "strength": "danger"}, {"what": "frost", "value": "−5.6 °C", "limit": "−1.8 °C", "chance": 1.0, "strength": "danger"}, {"what": "frost", "value": "−6.3 °C", "limit": "−1.8 °C", "chance": 1.0, "strength": "danger"}, {"what": "frost", "value": "−6.1 °C", "limit": "−1.8 °C", "chance": 1.0, "strength": "danger"}]}, "Heath": {"stage": "dormant", "open": null, "days": [null, null, null, null, {"what": "root frost", "value": "−6.9 °C", "limit": "−6.0 °C", "chance": 0.1, "strength": "notice"}]}}, "follow_ups": []}',1713938400);
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
INSERT INTO "reading" VALUES(1713866400,'air-min','','','command',-2.5,NULL);
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
