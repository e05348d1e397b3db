BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0003');
CREATE TABLE capture_parts (
	capture VARCHAR(32) NOT NULL, 
	part INTEGER NOT NULL, 
	data BLOB NOT NULL, 
	CONSTRAINT pk_capture_parts PRIMARY KEY (capture, part), 
	CONSTRAINT fk_capture_parts_capture_captures FOREIGN KEY(capture) REFERENCES captures (id)
);
CREATE TABLE captures (
	id VARCHAR(32) NOT NULL, 
	job INTEGER NOT NULL, 
	begun_at VARCHAR(32) NOT NULL, 
	recording VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_captures PRIMARY KEY (id), 
	CONSTRAINT fk_captures_job_jobs FOREIGN KEY(job) REFERENCES jobs (number)
);
CREATE TABLE entries (
	job INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	at VARCHAR(32) NOT NULL, 
	"by" VARCHAR(200) NOT NULL, 
	kind VARCHAR(32) NOT NULL, 
	body JSON NOT NULL, 
	CONSTRAINT pk_entries PRIMARY KEY (job, number), 
	CONSTRAINT fk_entries_job_jobs FOREIGN KEY(job) REFERENCES jobs (number)
);
INSERT INTO "entries" VALUES(1,1,'2026-03-01T09:00:00Z','Ada','intake','{"kind": "intake", "family": "small", "owner": "customer", "title": "Quarrow 714", "complaints": ["shakes"], "age_years": 6.0, "features": {"drive": "direct"}, "contact": "Mrs Ode"}');
INSERT INTO "entries" VALUES(1,2,'2026-03-01T09:00:03Z','Ada','finding','{"kind": "finding", "check": "play", "outcome": "much", "reading": 2.0, "reading_sd": 0.3, "note": "grey crumbs", "recording": "2350696ddbe1069139d1608400ef61ef"}');
INSERT INTO "entries" VALUES(1,3,'2026-03-01T09:00:04Z','Bo','note','{"kind": "note", "text": "wrong machine"}');
INSERT INTO "entries" VALUES(1,4,'2026-03-01T09:00:05Z','Bo','retraction','{"kind": "retraction", "entry": 3, "why": "not this one"}');
INSERT INTO "entries" VALUES(1,5,'2026-03-01T09:00:06Z','Ada','decision','{"kind": "decision", "option": "repair_hand_back", "agreed_minor": 12000, "quoted_minor": 12000, "ceiling_minor": 13000, "repairs": ["replace_dampers"], "agreed_by": "Mrs Ode", "told": ["What it costs: 120.00 EUR."]}');
INSERT INTO "entries" VALUES(1,6,'2026-03-01T09:00:07Z','Ada','closed','{"kind": "closed", "ending": "repair_hand_back", "faults": ["damper_worn:gone"], "received_minor": 12000, "terms": {"tax_percent": 20.0}}');
INSERT INTO "entries" VALUES(1,7,'2026-03-01T09:00:08Z','Ada','retraction','{"kind": "retraction", "entry": 6, "why": "knocks again", "comeback": true}');
CREATE TABLE jobs (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	opened_at VARCHAR(32) NOT NULL
);
INSERT INTO "jobs" VALUES(1,'2026-03-01T09:00:00Z');
CREATE TABLE lots (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	family VARCHAR(80) NOT NULL, 
	item VARCHAR(80) NOT NULL, 
	kind VARCHAR(16) NOT NULL, 
	cost_minor INTEGER NOT NULL, 
	asked_minor INTEGER, 
	maker VARCHAR(200) NOT NULL, 
	model VARCHAR(200) NOT NULL, 
	donor INTEGER, 
	good FLOAT, 
	CONSTRAINT fk_lots_donor_jobs FOREIGN KEY(donor) REFERENCES jobs (number)
);
INSERT INTO "lots" VALUES(1,'small','damper','used',0,NULL,'','',1,0.8);
CREATE TABLE movements (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	lot INTEGER NOT NULL, 
	at VARCHAR(32) NOT NULL, 
	"by" VARCHAR(200) NOT NULL, 
	kind VARCHAR(16) NOT NULL, 
	pieces INTEGER NOT NULL, 
	held INTEGER NOT NULL, 
	job INTEGER, 
	entry INTEGER, 
	place VARCHAR(200) NOT NULL, 
	note VARCHAR(400) NOT NULL, 
	undoes INTEGER, 
	CONSTRAINT fk_movements_lot_lots FOREIGN KEY(lot) REFERENCES lots (number), 
	CONSTRAINT fk_movements_job_jobs FOREIGN KEY(job) REFERENCES jobs (number), 
	CONSTRAINT fk_movements_undoes_movements FOREIGN KEY(undoes) REFERENCES movements (number), 
	CONSTRAINT uq_movements_undoes UNIQUE (undoes)
);
INSERT INTO "movements" VALUES(1,1,'2026-03-01T09:00:11Z','ada','received',3,0,NULL,NULL,'B2','',NULL);
INSERT INTO "movements" VALUES(2,1,'2026-03-01T09:00:12Z','ada','reserved',0,1,1,NULL,'','',NULL);
CREATE TABLE photos (
	id VARCHAR(32) NOT NULL, 
	added_at VARCHAR(32) NOT NULL, 
	data BLOB NOT NULL, 
	CONSTRAINT pk_photos PRIMARY KEY (id)
);
CREATE TABLE price_lists (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	at VARCHAR(32) NOT NULL, 
	"by" VARCHAR(200) NOT NULL, 
	supplier VARCHAR(200) NOT NULL, 
	file VARCHAR(200) NOT NULL, 
	whole BOOLEAN NOT NULL, 
	left_out INTEGER NOT NULL, 
	takes_back INTEGER, 
	CONSTRAINT fk_price_lists_takes_back_price_lists FOREIGN KEY(takes_back) REFERENCES price_lists (number)
);
INSERT INTO "price_lists" VALUES(1,'2026-03-01T09:00:10Z','ada','Farnholm','list.csv',0,0,NULL);
CREATE TABLE prices (
	list INTEGER NOT NULL, 
	line INTEGER NOT NULL, 
	family VARCHAR(80) NOT NULL, 
	part VARCHAR(80) NOT NULL, 
	kind VARCHAR(16) NOT NULL, 
	price_minor INTEGER NOT NULL, 
	pack INTEGER NOT NULL, 
	lead_days INTEGER, 
	maker VARCHAR(200) NOT NULL, 
	number VARCHAR(200) NOT NULL, 
	description VARCHAR(200) NOT NULL, 
	CONSTRAINT pk_prices PRIMARY KEY (list, line), 
	CONSTRAINT fk_prices_list_price_lists FOREIGN KEY(list) REFERENCES price_lists (number)
);
INSERT INTO "prices" VALUES(1,2,'small','damper','new',1900,2,3,'','F1','Damper');
CREATE TABLE recordings (
	id VARCHAR(32) NOT NULL, 
	added_at VARCHAR(32) NOT NULL, 
	name VARCHAR(200) NOT NULL, 
	data BLOB NOT NULL, top_rpm FLOAT, sound VARCHAR(32), sound_start_s FLOAT, 
	CONSTRAINT pk_recordings PRIMARY KEY (id)
);
INSERT INTO "recordings" VALUES('2350696ddbe1069139d1608400ef61ef','2026-03-01T09:00:02Z','spin.csv',X'742C782C792C7A0A302C302C302C392E38310A',1100.0,NULL,NULL);
CREATE TABLE settings (
	"key" VARCHAR(64) NOT NULL, 
	value JSON NOT NULL, 
	changed_at VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_settings PRIMARY KEY ("key")
);
INSERT INTO "settings" VALUES('labour_rate_minor',5200,'2026-03-01T09:00:09Z');
INSERT INTO "settings" VALUES('tools','["torx"]','2026-03-01T09:00:09Z');
INSERT INTO "settings" VALUES('careful','true','2026-03-01T09:00:09Z');
CREATE INDEX ix_entries_kind ON entries (kind);
CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'entries are append-only: take one back with a retraction'); END;
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'entries are append-only: take one back with a retraction'); END;
CREATE TRIGGER entries_no_replace BEFORE INSERT ON entries WHEN EXISTS (SELECT 1 FROM entries WHERE job = NEW.job AND number = NEW.number) BEGIN SELECT RAISE(ABORT, 'entries are append-only: take one back with a retraction'); END;
CREATE INDEX ix_prices_part ON prices (part);
CREATE INDEX ix_lots_item ON lots (item);
CREATE INDEX ix_movements_lot ON movements (lot);
CREATE INDEX ix_movements_job ON movements (job);
CREATE TRIGGER price_lists_no_update BEFORE UPDATE ON price_lists BEGIN SELECT RAISE(ABORT, 'price_lists are append-only: take one back with another'); END;
CREATE TRIGGER price_lists_no_delete BEFORE DELETE ON price_lists BEGIN SELECT RAISE(ABORT, 'price_lists are append-only: take one back with another'); END;
CREATE TRIGGER price_lists_no_replace BEFORE INSERT ON price_lists WHEN EXISTS (SELECT 1 FROM price_lists WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'price_lists are append-only: take one back with another'); END;
CREATE TRIGGER prices_no_update BEFORE UPDATE ON prices BEGIN SELECT RAISE(ABORT, 'prices are append-only: take one back with another'); END;
CREATE TRIGGER prices_no_delete BEFORE DELETE ON prices BEGIN SELECT RAISE(ABORT, 'prices are append-only: take one back with another'); END;
CREATE TRIGGER prices_no_replace BEFORE INSERT ON prices WHEN EXISTS (SELECT 1 FROM prices WHERE list = NEW.list AND line = NEW.line) BEGIN SELECT RAISE(ABORT, 'prices are append-only: take one back with another'); END;
CREATE TRIGGER lots_no_update BEFORE UPDATE ON lots BEGIN SELECT RAISE(ABORT, 'lots are append-only: take one back with another'); END;
CREATE TRIGGER lots_no_delete BEFORE DELETE ON lots BEGIN SELECT RAISE(ABORT, 'lots are append-only: take one back with another'); END;
CREATE TRIGGER lots_no_replace BEFORE INSERT ON lots WHEN EXISTS (SELECT 1 FROM lots WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'lots are append-only: take one back with another'); END;
CREATE TRIGGER movements_no_update BEFORE UPDATE ON movements BEGIN SELECT RAISE(ABORT, 'movements are append-only: take one back with another'); END;
CREATE TRIGGER movements_no_delete BEFORE DELETE ON movements BEGIN SELECT RAISE(ABORT, 'movements are append-only: take one back with another'); END;
CREATE TRIGGER movements_no_replace BEFORE INSERT ON movements WHEN EXISTS (SELECT 1 FROM movements WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'movements are append-only: take one back with another'); END;
CREATE TRIGGER movements_enough BEFORE INSERT ON movements
WHEN (SELECT COALESCE(SUM(held), 0) FROM movements WHERE lot = NEW.lot) + NEW.held < 0 OR (SELECT COALESCE(SUM(pieces), 0) FROM movements WHERE lot = NEW.lot) + NEW.pieces < (SELECT COALESCE(SUM(held), 0) FROM movements WHERE lot = NEW.lot) + NEW.held
BEGIN SELECT RAISE(ABORT, 'there are not so many pieces'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('jobs',1);
INSERT INTO "sqlite_sequence" VALUES('price_lists',1);
INSERT INTO "sqlite_sequence" VALUES('lots',1);
INSERT INTO "sqlite_sequence" VALUES('movements',2);
COMMIT;
