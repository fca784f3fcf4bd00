-- What the desk's list shows of each package, one row for each, and how it is kept up: version 6 of
-- the register. Everything here is derived; whenever something is entered about a package, its row is
-- made again from the view. A list of any length then opens by its indexes, and the counts of what
-- waits are those of small partial indexes.

CREATE VIEW IF NOT EXISTS worklist_now AS
SELECT p.id, p.name, p.claim, p.serial, p.technician, p.outcome, p.model, p.step_list, p.closed_utc,
  p.received_at, p.fingerprint, coalesce(r.exit_status, 0) AS exit_status,
  -- Why a package fails, in the few classes that lead to different actions; the first that fits.
  CASE
    WHEN coalesce(r.exit_status, 0) = 0 THEN NULL
    WHEN NOT json_valid(r.json) THEN 'unchecked'
    WHEN json_type(r.json, '$.checks') IS NULL THEN 'unreadable'
    ELSE coalesce(
      (SELECT CASE min(CASE json_extract(value, '$.name')
            WHEN 'archive' THEN 1 WHEN 'bag' THEN 1 WHEN 'checksums' THEN 1 WHEN 'nothing-extra' THEN 1
            WHEN 'originals' THEN 1 WHEN 'record' THEN 1 WHEN 'report' THEN 1
            WHEN 'seal' THEN 2 WHEN 'journal-chain' THEN 2
            WHEN 'key' THEN 3 WHEN 'time-bracket' THEN 3
            WHEN 'conduct' THEN 4 WHEN 'clocks' THEN 4
            WHEN 'practice' THEN 5 END)
          WHEN 1 THEN 'altered' WHEN 2 THEN 'seal' WHEN 3 THEN 'key' WHEN 4 THEN 'conduct'
          WHEN 5 THEN 'practice' END
        FROM json_each(r.json, '$.checks') WHERE json_extract(value, '$.outcome') = 'fails'),
      'unchecked')
  END AS fail_class,
  (SELECT count(*) FROM photos f JOIN reused u ON u.photo = f.id
    WHERE f.package = p.id AND u.verdict IN ('same-file', 'same-picture')) AS photos_reused,
  (p.job IS NOT NULL AND EXISTS
    (SELECT 1 FROM packages o WHERE o.job = p.job AND o.id != p.id)) AS conflict,
  (SELECT decision FROM events WHERE package = p.id AND kind = 'decided' ORDER BY id DESC LIMIT 1)
    AS decision,
  (SELECT decision FROM events WHERE package = p.id AND kind = 'countersigned' ORDER BY id DESC LIMIT 1)
    AS review
FROM packages p LEFT JOIN results r ON r.id = (SELECT max(id) FROM results WHERE package = p.id);

CREATE TABLE IF NOT EXISTS worklist (
  id INTEGER PRIMARY KEY, name TEXT, claim TEXT, serial TEXT, technician TEXT, outcome TEXT,
  model TEXT, step_list TEXT, closed_utc TEXT, received_at TEXT, fingerprint TEXT,
  exit_status INTEGER, fail_class TEXT, photos_reused INTEGER, conflict INTEGER, decision TEXT,
  review TEXT,
  w_fails INTEGER GENERATED ALWAYS AS (exit_status != 0 AND decision IS NULL),
  w_shown INTEGER GENERATED ALWAYS AS ((photos_reused > 0 OR conflict) AND decision IS NULL),
  w_stops INTEGER GENERATED ALWAYS AS (outcome IS 'stopped' AND review IS NULL),
  w_undecided INTEGER GENERATED ALWAYS AS (decision IS NULL),
  anywhere TEXT GENERATED ALWAYS AS (lower(coalesce(claim, '') || char(10) || coalesce(serial, '')
    || char(10) || coalesce(technician, '') || char(10) || coalesce(fingerprint, '') || char(10)
    || coalesce(step_list, '') || char(10) || coalesce(model, '') || char(10) || coalesce(name, ''))));

INSERT OR REPLACE INTO worklist SELECT * FROM worklist_now;

CREATE TRIGGER IF NOT EXISTS packages_are_listed AFTER INSERT ON packages BEGIN
  INSERT OR REPLACE INTO worklist SELECT * FROM worklist_now WHERE id = new.id;
  INSERT OR REPLACE INTO worklist SELECT * FROM worklist_now
    WHERE id IN (SELECT id FROM packages WHERE job = new.job AND id != new.id);
END;

CREATE TRIGGER IF NOT EXISTS results_are_listed AFTER INSERT ON results BEGIN
  INSERT OR REPLACE INTO worklist SELECT * FROM worklist_now WHERE id = new.package;
END;

CREATE TRIGGER IF NOT EXISTS events_are_listed AFTER INSERT ON events
WHEN new.kind IN ('decided', 'countersigned') BEGIN
  INSERT OR REPLACE INTO worklist SELECT * FROM worklist_now WHERE id = new.package;
END;

CREATE TRIGGER IF NOT EXISTS reused_are_listed AFTER INSERT ON reused BEGIN
  INSERT OR REPLACE INTO worklist SELECT * FROM worklist_now
    WHERE id = (SELECT package FROM photos WHERE id = new.photo);
END;

CREATE INDEX IF NOT EXISTS worklist_claim ON worklist (claim, id);

CREATE INDEX IF NOT EXISTS worklist_serial ON worklist (serial, id);

CREATE INDEX IF NOT EXISTS worklist_technician ON worklist (technician, id);

CREATE INDEX IF NOT EXISTS worklist_step_list ON worklist (step_list, id);

CREATE INDEX IF NOT EXISTS worklist_outcome ON worklist (outcome, id);

CREATE INDEX IF NOT EXISTS worklist_closed_utc ON worklist (closed_utc, id);

CREATE INDEX IF NOT EXISTS worklist_received_at ON worklist (received_at, id);

CREATE INDEX IF NOT EXISTS worklist_decision ON worklist (decision, id);

CREATE INDEX IF NOT EXISTS worklist_fail_class ON worklist (fail_class, id);

CREATE INDEX IF NOT EXISTS worklist_photos_reused ON worklist (photos_reused, id);

CREATE INDEX IF NOT EXISTS worklist_anywhere ON worklist (anywhere);

CREATE INDEX IF NOT EXISTS worklist_fails ON worklist (id) WHERE w_fails;

CREATE INDEX IF NOT EXISTS worklist_shown ON worklist (id) WHERE w_shown;

CREATE INDEX IF NOT EXISTS worklist_stops ON worklist (id) WHERE w_stops;

CREATE INDEX IF NOT EXISTS worklist_undecided ON worklist (id) WHERE w_undecided;
