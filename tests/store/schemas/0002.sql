BEGIN TRANSACTION;
CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY);
INSERT INTO "alembic_version" VALUES('0002');
CREATE TABLE answer (
	tank TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	model TEXT NOT NULL, 
	seed INTEGER NOT NULL, 
	record TEXT NOT NULL, 
	grades TEXT NOT NULL, 
	made_at DATETIME NOT NULL, 
	answer BLOB NOT NULL, 
	CONSTRAINT pk_answer PRIMARY KEY (tank, kind)
);
CREATE TABLE audit (
	sequence INTEGER NOT NULL, 
	at DATETIME NOT NULL, 
	person TEXT NOT NULL, 
	device TEXT NOT NULL, 
	action TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	"before" TEXT NOT NULL, 
	"after" TEXT NOT NULL, 
	CONSTRAINT pk_audit PRIMARY KEY (sequence)
);
CREATE TABLE belief (
	tank TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	model TEXT NOT NULL, 
	seed INTEGER NOT NULL, 
	record TEXT NOT NULL, 
	grades TEXT NOT NULL, 
	made_at DATETIME NOT NULL, 
	members BLOB NOT NULL, 
	CONSTRAINT pk_belief PRIMARY KEY (tank, at)
);
CREATE TABLE blend (
	row_id INTEGER NOT NULL, 
	blend TEXT NOT NULL, 
	part TEXT NOT NULL, 
	share FLOAT, 
	as_written TEXT NOT NULL, 
	CONSTRAINT pk_blend PRIMARY KEY (row_id), 
	CONSTRAINT uq_blend_blend_part UNIQUE (blend, part)
);
CREATE TABLE device (
	device TEXT NOT NULL, 
	person TEXT NOT NULL, 
	name TEXT NOT NULL, 
	token_hash TEXT NOT NULL, 
	created_at DATETIME NOT NULL, 
	seen_at DATETIME NOT NULL, 
	expires_at DATETIME NOT NULL, 
	revoked_at DATETIME, 
	CONSTRAINT pk_device PRIMARY KEY (device), 
	CONSTRAINT fk_device_person FOREIGN KEY(person) REFERENCES person (person), 
	CONSTRAINT uq_device_token_hash UNIQUE (token_hash)
);
CREATE TABLE entry (
	sequence INTEGER NOT NULL, 
	id TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	at_text TEXT NOT NULL, 
	tank TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	what TEXT NOT NULL, 
	low FLOAT, 
	high FLOAT, 
	unit TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	method TEXT NOT NULL, 
	note TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	person TEXT NOT NULL, 
	device TEXT NOT NULL, 
	CONSTRAINT pk_entry PRIMARY KEY (sequence), 
	CONSTRAINT uq_entry_id UNIQUE (id)
);
INSERT INTO "entry" VALUES(1,'00000000-0000-4000-8000-000000000001','2026-03-01 07:00:00.000000','2026-03-01T08:00','Fern','reading','ph',7.5,7.5,'','kim','','','','2026-05-02 09:00:00.000000','kim','phone of kim');
INSERT INTO "entry" VALUES(2,'00000000-0000-4000-8000-000000000002','2026-03-02 07:00:00.000000','2026-03-02T08:00','Moss','reading','nitrate_ion',10.0,20.0,'mg/L','kim','','Größe, 日本 <b>','{"low": "10.0"}','2026-05-02 09:00:00.000000','kim','phone of kim');
CREATE TABLE entry_change (
	sequence INTEGER NOT NULL, 
	id TEXT NOT NULL, 
	entry TEXT NOT NULL, 
	replacement TEXT, 
	reason TEXT NOT NULL, 
	after_entry INTEGER NOT NULL, 
	by_undo INTEGER NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	person TEXT NOT NULL, 
	device TEXT NOT NULL, 
	undone_at DATETIME, 
	CONSTRAINT pk_entry_change PRIMARY KEY (sequence), 
	CONSTRAINT uq_entry_change_id UNIQUE (id), 
	CONSTRAINT fk_entry_change_entry FOREIGN KEY(entry) REFERENCES entry (id), 
	CONSTRAINT fk_entry_change_replacement FOREIGN KEY(replacement) REFERENCES entry (id)
);
CREATE TABLE feed (
	row_id INTEGER NOT NULL, 
	feed TEXT NOT NULL, 
	protein_pct FLOAT, 
	phosphorus_pct FLOAT, 
	potassium_pct FLOAT, 
	copper_mg_kg FLOAT, 
	moisture_pct FLOAT, 
	note TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	CONSTRAINT pk_feed PRIMARY KEY (row_id), 
	CONSTRAINT uq_feed_feed UNIQUE (feed)
);
CREATE TABLE job (
	job TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	tank TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	urgent INTEGER NOT NULL, 
	attempts INTEGER NOT NULL, 
	state TEXT NOT NULL, 
	progress FLOAT NOT NULL, 
	message TEXT NOT NULL, 
	cancel_asked INTEGER NOT NULL, 
	process INTEGER NOT NULL, 
	asked_at DATETIME NOT NULL, 
	started_at DATETIME, 
	seen_at DATETIME, 
	ended_at DATETIME, 
	CONSTRAINT pk_job PRIMARY KEY (job), 
	CONSTRAINT ck_job_state CHECK (state IN ('waiting', 'running', 'done', 'failed', 'cancelled', 'lost'))
);
CREATE TABLE kit (
	row_id INTEGER NOT NULL, 
	kit TEXT NOT NULL, 
	reading TEXT NOT NULL, 
	unit TEXT NOT NULL, 
	way TEXT NOT NULL, 
	steps TEXT NOT NULL, 
	note TEXT NOT NULL, good_until TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_kit PRIMARY KEY (row_id), 
	CONSTRAINT uq_kit_kit UNIQUE (kit), 
	CONSTRAINT ck_kit_way CHECK (way IN ('chart', 'titration'))
);
INSERT INTO "kit" VALUES(1,'drops','kh','dH','titration','1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20','','2027-03-31');
CREATE TABLE pairing (
	code_hash TEXT NOT NULL, 
	person TEXT NOT NULL, 
	created_at DATETIME NOT NULL, 
	expires_at DATETIME NOT NULL, 
	used_at DATETIME, 
	CONSTRAINT pk_pairing PRIMARY KEY (code_hash), 
	CONSTRAINT fk_pairing_person FOREIGN KEY(person) REFERENCES person (person)
);
CREATE TABLE person (
	person TEXT NOT NULL, 
	role TEXT NOT NULL, 
	password_hash TEXT NOT NULL, 
	units TEXT NOT NULL, 
	created_at DATETIME NOT NULL, 
	left_at DATETIME, 
	CONSTRAINT pk_person PRIMARY KEY (person), 
	CONSTRAINT ck_person_role CHECK (role IN ('keeper', 'helper', 'viewer'))
);
CREATE TABLE photo (
	photo TEXT NOT NULL, 
	tank TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	media_type TEXT NOT NULL, 
	width INTEGER NOT NULL, 
	height INTEGER NOT NULL, 
	picture BLOB NOT NULL, 
	small BLOB NOT NULL, 
	note TEXT NOT NULL, 
	CONSTRAINT pk_photo PRIMARY KEY (photo)
);
CREATE TABLE rack (
	row_id INTEGER NOT NULL, 
	"key" TEXT NOT NULL, 
	value TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	CONSTRAINT pk_rack PRIMARY KEY (row_id), 
	CONSTRAINT uq_rack_key UNIQUE ("key")
);
INSERT INTO "rack" VALUES(1,'name','Shelf','');
INSERT INTO "rack" VALUES(2,'timezone','Europe/Paris','');
INSERT INTO "rack" VALUES(3,'latitude_deg','','');
INSERT INTO "rack" VALUES(4,'altitude_m','','');
INSERT INTO "rack" VALUES(5,'room_c','','');
INSERT INTO "rack" VALUES(6,'room_humidity_pct','','');
INSERT INTO "rack" VALUES(7,'region','','');
CREATE TABLE soil (
	row_id INTEGER NOT NULL, 
	soil TEXT NOT NULL, 
	organic_pct FLOAT, 
	nitrogen_pct FLOAT, 
	phosphorus_pct FLOAT, 
	copper_mg_kg FLOAT, 
	note TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	CONSTRAINT pk_soil PRIMARY KEY (row_id), 
	CONSTRAINT uq_soil_soil UNIQUE (soil)
);
CREATE TABLE tank (
	row_id INTEGER NOT NULL, 
	tank TEXT NOT NULL, 
	net_l FLOAT, 
	surface_m2 FLOAT, 
	lid TEXT NOT NULL, 
	heater_c FLOAT, 
	light_hours FLOAT, 
	light_ppfd FLOAT, 
	soil TEXT NOT NULL, 
	soil_mm FLOAT, 
	cap_mm FLOAT, 
	soil_since TEXT NOT NULL, 
	started TEXT NOT NULL, 
	flow TEXT NOT NULL, 
	top_up_water TEXT NOT NULL, 
	cover_target_pct FLOAT, 
	note TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	CONSTRAINT pk_tank PRIMARY KEY (row_id), 
	CONSTRAINT uq_tank_tank UNIQUE (tank)
);
INSERT INTO "tank" VALUES(1,'Fern',30.0,0.12,'open',NULL,NULL,NULL,'',NULL,NULL,'','2026-01-02','still','rain',NULL,'','');
INSERT INTO "tank" VALUES(2,'Moss',12.5,0.06,'open',NULL,NULL,NULL,'',NULL,NULL,'','','still','',NULL,'','');
CREATE TABLE water (
	row_id INTEGER NOT NULL, 
	water TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	calcium_mg_l FLOAT, 
	magnesium_mg_l FLOAT, 
	sodium_mg_l FLOAT, 
	potassium_mg_l FLOAT, 
	bicarbonate_mg_l FLOAT, 
	sulfate_mg_l FLOAT, 
	chloride_mg_l FLOAT, 
	nitrate_mg_l FLOAT, 
	phosphate_mg_l FLOAT, 
	iron_mg_l FLOAT, 
	copper_ug_l FLOAT, 
	zinc_ug_l FLOAT, 
	ph FLOAT, 
	kh_dh FLOAT, 
	gh_dh FLOAT, 
	ec25_us_cm FLOAT, 
	"from" TEXT NOT NULL, 
	note TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	CONSTRAINT pk_water PRIMARY KEY (row_id), 
	CONSTRAINT uq_water_water_from UNIQUE (water, "from")
);
CREATE INDEX ix_entry_tank_at ON entry (tank, at);
CREATE INDEX ix_entry_tank_kind_what_at ON entry (tank, kind, what, at);
CREATE INDEX ix_photo_tank_at ON photo (tank, at);
CREATE INDEX ix_job_state_asked_at ON job (state, asked_at);
CREATE INDEX ix_entry_change_entry ON entry_change (entry);
COMMIT;
