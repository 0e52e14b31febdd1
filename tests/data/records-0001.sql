BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE cases (
	id VARCHAR(12) NOT NULL, 
	title VARCHAR(200) NOT NULL, 
	weapon VARCHAR(20) NOT NULL, 
	complaint TEXT NOT NULL, 
	place VARCHAR(10) NOT NULL, 
	item VARCHAR(80), 
	tools JSON NOT NULL, 
	version INTEGER NOT NULL, 
	opened DATETIME NOT NULL, 
	changed DATETIME NOT NULL, 
	closed DATETIME, 
	CONSTRAINT pk_cases PRIMARY KEY (id)
);
INSERT INTO "cases" VALUES('m9epxb','Lanternfield Autumn Open (invented), piste 3: it goes white, and I never hit anything','foil','It goes white, and I never hit anything','bench','left weapon','["meter"]',6,'2026-10-03 09:00:00.000000','2026-10-03 09:02:35.250000',NULL);
INSERT INTO "cases" VALUES('c5udnv','Épée of the club (invented): nothing lights','épée','','piste',NULL,'["spare"]',1,'2026-10-03 09:02:52.500000','2026-10-03 09:02:52.500000',NULL);
INSERT INTO "cases" VALUES('b8tgbc','Sabre, left: Some of my cuts give no light','sabre','Some of my cuts give no light','piste',NULL,'["spare"]',2,'2026-10-03 09:03:09.750000','2026-10-03 09:03:44.250000','2026-10-03 09:03:27.000000');
CREATE TABLE entries (
	id INTEGER NOT NULL, 
	case_id VARCHAR(12) NOT NULL, 
	number INTEGER NOT NULL, 
	kind VARCHAR(10) NOT NULL, 
	say TEXT NOT NULL, 
	trial JSON NOT NULL, 
	token VARCHAR(40) NOT NULL, 
	"by" VARCHAR(40) NOT NULL, 
	at DATETIME NOT NULL, 
	taken_back DATETIME, 
	CONSTRAINT pk_entries PRIMARY KEY (id), 
	CONSTRAINT fk_entries_case_id FOREIGN KEY(case_id) REFERENCES cases (id) ON DELETE CASCADE, 
	CONSTRAINT uq_entries_case_id UNIQUE (case_id, number), 
	CONSTRAINT uq_entries_token UNIQUE (case_id, token)
);
INSERT INTO "entries" VALUES(1,'m9epxb',1,'trial','It goes white, and I never hit anything','{"move": ["fence left"], "saw": ["left white flickers"]}','opened-1','brass lamp','2026-10-03 09:00:00.000000',NULL);
INSERT INTO "entries" VALUES(2,'m9epxb',2,'trial','unplug the left weapon and hold both pins of its cord on the guard','{"unplugged": ["left weapon plug"], "bridged": ["left weapon plug B-C"], "saw": ["nothing"]}','answer-0','brass lamp','2026-10-03 09:00:17.250000','2026-10-03 09:01:26.250000');
INSERT INTO "entries" VALUES(3,'m9epxb',3,'trial','leave the whole strip at rest','{"saw": ["nothing"]}','answer-1','brass lamp','2026-10-03 09:00:51.750000',NULL);
INSERT INTO "entries" VALUES(4,'m9epxb',4,'skip','press the right point on the left guard','{}','skip-1','','2026-10-03 09:02:00.750000',NULL);
INSERT INTO "entries" VALUES(5,'b8tgbc',1,'trial','Some of my cuts give no light','{"cut": "left", "on": "right lam\u00e9 front", "saw": ["left coloured sometimes"]}','opened-2','','2026-10-03 09:03:09.750000',NULL);
CREATE INDEX ix_cases_changed ON cases (changed);
COMMIT;
