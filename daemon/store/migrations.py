"""The tables of the state database, as they came to be.

Each change is one migration, applied in the order of this file; a released one is never edited.
Moments are UTC seconds.
"""

from __future__ import annotations

import json

from sqlite_utils import Database, Migrations

MIGRATIONS = Migrations("underbench")


@MIGRATIONS(name="0001_initial")
def _initial(db: Database) -> None:
    db.executescript(
        """
        CREATE TABLE journal (
            id INTEGER PRIMARY KEY,
            at INTEGER NOT NULL,
            tree TEXT NOT NULL,
            kind TEXT NOT NULL,
            entry TEXT NOT NULL
        ) STRICT;
        CREATE INDEX journal_at ON journal (at);

        CREATE TABLE hour (
            at INTEGER PRIMARY KEY CHECK (at % 3600 = 0),
            air_c REAL, dew_c REAL, wind_ms REAL, gust_ms REAL, cloud REAL,
            global_wm2 REAL, diffuse_wm2 REAL, rain_mm REAL, pressure_kpa REAL, snow_m REAL
        ) STRICT;

        CREATE TABLE checkpoint (
            tree TEXT NOT NULL,
            day INTEGER NOT NULL,
            at INTEGER NOT NULL,
            stamp TEXT NOT NULL,
            state TEXT NOT NULL,
            PRIMARY KEY (tree, day)
        ) STRICT;

        CREATE TABLE forecast (
            id INTEGER PRIMARY KEY CHECK (id = 1),
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
            updated INTEGER NOT NULL,
            PRIMARY KEY (tree, hazard, span_start)
        ) STRICT;
        CREATE INDEX episode_span_end ON episode (span_end);

        CREATE TABLE message (
            id INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            strength TEXT NOT NULL,
            queued_at INTEGER NOT NULL
        ) STRICT;

        CREATE TABLE delivery (
            message TEXT NOT NULL REFERENCES message (key) ON DELETE CASCADE,
            service TEXT NOT NULL,
            attempts INTEGER NOT NULL,
            next_try INTEGER NOT NULL,
            delivered_at INTEGER,
            PRIMARY KEY (message, service)
        ) STRICT;

        CREATE TABLE place (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            words TEXT NOT NULL
        ) STRICT;

        CREATE TABLE duty (
            name TEXT PRIMARY KEY,
            done_at INTEGER NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0002_alerts")
def _alerts(db: Database) -> None:
    """An episode's life after it was told; a message's kind, whom it is for, how it fared."""
    db.executescript(
        """
        ALTER TABLE episode ADD COLUMN told_do_by INTEGER;
        ALTER TABLE episode ADD COLUMN told_worst REAL;
        ALTER TABLE episode ADD COLUMN told_limit REAL;
        ALTER TABLE episode ADD COLUMN told_chance REAL;
        ALTER TABLE episode ADD COLUMN remedy TEXT;
        ALTER TABLE episode ADD COLUMN into_spot TEXT;
        ALTER TABLE episode ADD COLUMN back_at INTEGER;
        ALTER TABLE episode ADD COLUMN handled_at INTEGER;
        ALTER TABLE episode ADD COLUMN reminded_at INTEGER;
        ALTER TABLE episode ADD COLUMN calm_since INTEGER;
        ALTER TABLE episode ADD COLUMN back_told_at INTEGER;
        ALTER TABLE episode ADD COLUMN asked_at INTEGER;
        ALTER TABLE message ADD COLUMN kind TEXT NOT NULL DEFAULT 'advice';
        ALTER TABLE message ADD COLUMN recipients TEXT NOT NULL DEFAULT '["keeper"]';
        ALTER TABLE message ADD COLUMN picture TEXT NOT NULL DEFAULT '';
        ALTER TABLE delivery ADD COLUMN tried_at INTEGER;
        ALTER TABLE delivery ADD COLUMN reason TEXT;
        """
    )


@MIGRATIONS(name="0005_ensemble")
def _ensemble(db: Database) -> None:
    """The last forecast ensemble, as it came."""
    db.executescript(
        """
        CREATE TABLE ensemble (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            models TEXT NOT NULL,
            fetched_at INTEGER NOT NULL,
            body BLOB NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0004_readings")
def _readings(db: Database) -> None:
    """What the keeper's own thermometers said; how far their file was read."""
    db.executescript(
        """
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
        """
    )


@MIGRATIONS(name="0003_sources")
def _sources(db: Database) -> None:
    """Each weather source's last answer, what it said about asking again, and its standing."""
    db.executescript(
        """
        ALTER TABLE forecast RENAME TO only_forecast;
        CREATE TABLE forecast (
            source TEXT PRIMARY KEY,
            fetched_at INTEGER NOT NULL,
            same_since INTEGER NOT NULL,
            last_modified TEXT NOT NULL,
            expires INTEGER,
            body BLOB NOT NULL
        ) STRICT;
        INSERT INTO forecast
            SELECT 'Open-Meteo', fetched_at, fetched_at, '', NULL, body FROM only_forecast;
        DROP TABLE only_forecast;

        CREATE TABLE source (
            name TEXT PRIMARY KEY,
            ask_at INTEGER,
            why TEXT NOT NULL,
            said TEXT NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0006_learning")
def _learning(db: Database) -> None:
    """What was forecast for each night, and the correction learned from what came."""
    db.executescript(
        """
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

        CREATE TABLE learned (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            until INTEGER NOT NULL,
            state TEXT NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0007_page")
def _page(db: Database) -> None:
    """What the page keeps by name: its password's hash, the key of its sessions, the last pass."""
    db.executescript(
        "CREATE TABLE page (name TEXT PRIMARY KEY, text TEXT NOT NULL, at INTEGER NOT NULL) STRICT;"
    )


@MIGRATIONS(name="0008_undo")
def _undo(db: Database) -> None:
    """What was noted together, and whether that was taken back; who has a link to look."""
    db.executescript(
        """
        CREATE TABLE note (
            id INTEGER PRIMARY KEY,
            noted_at INTEGER NOT NULL,
            undone_at INTEGER,
            answered TEXT NOT NULL
        ) STRICT;
        ALTER TABLE journal ADD COLUMN note INTEGER REFERENCES note (id);
        ALTER TABLE journal ADD COLUMN undone_at INTEGER;

        CREATE TABLE share (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL,
            token_hash TEXT NOT NULL UNIQUE,
            made_at INTEGER NOT NULL,
            revoked_at INTEGER
        ) STRICT;
        """
    )


@MIGRATIONS(name="0009_past_days")
def _past_days(db: Database) -> None:
    """Days of years before the record, from an archive."""
    db.executescript(
        """
        CREATE TABLE past_day (
            day INTEGER PRIMARY KEY,
            mean_c REAL NOT NULL,
            low_c REAL NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0010_doubt")
def _doubt(db: Database) -> None:
    """Since when what a weather source sends has been in grave doubt."""
    db.executescript("ALTER TABLE source ADD COLUMN doubted_since INTEGER;")


@MIGRATIONS(name="0011_untaken")
def _untaken(db: Database) -> None:
    """What a message counts as said, empty where that is not known; when it was found missed."""
    db.executescript(
        """
        ALTER TABLE message ADD COLUMN tells TEXT NOT NULL DEFAULT '';
        ALTER TABLE message ADD COLUMN missed_at INTEGER;
        """
    )


@MIGRATIONS(name="0012_unanswered")
def _unanswered(db: Database) -> None:
    """How often a message was sent whole to a service and no answer came."""
    db.executescript("ALTER TABLE delivery ADD COLUMN unanswered INTEGER NOT NULL DEFAULT 0;")


@MIGRATIONS(name="0013_owner")
def _owner(db: Database) -> None:
    """The garden a database belongs to, and entries of the journal that cannot be read."""
    db.executescript(
        """
        CREATE TABLE garden (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            name TEXT NOT NULL,
            file TEXT NOT NULL
        ) STRICT;
        ALTER TABLE journal ADD COLUMN set_aside INTEGER NOT NULL DEFAULT 0;
        """
    )


@MIGRATIONS(name="0014_hazard_keys")
def _hazard_keys(db: Database) -> None:
    """Hazards by key, where their English words had stood: of episodes, of outcomes in the journal,
    and of the episodes that a note had answered."""
    keys = {
        "frost on leaves or buds": "leaf-frost",
        "frost on moving sap": "moving-sap",
        "frost in the root ball": "root-frost",
        "air colder than its keeper lets it stand in": "cold-air",
        "cold air on a tropical": "chill",
        "gale": "gale",
        "dry wind on new leaves": "dry-wind",
        "drying while frozen": "frozen-drying",
        "leaf scorch": "scorch",
        "first sun after a bag": "first-sun",
        "hot roots": "hot-roots",
        "hot bag": "hot-bag",
        "dry pot": "dry-pot",
        "dry moss of a layer": "dry-moss",
        "in the dark too long": "dark",
    }
    for words, key in keys.items():
        db.execute("UPDATE episode SET hazard = ? WHERE hazard = ?", [key, words])
        db.execute(
            "UPDATE journal SET entry = json_set(entry, '$.hazard', ?)"
            " WHERE kind = 'outcome' AND json_extract(entry, '$.hazard') = ?",
            [key, words],
        )
    for number, text in db.execute("SELECT id, answered FROM note").fetchall():
        answered = json.loads(text)
        for one in answered:
            tree, hazard, span_start = one["key"]
            one["key"] = [tree, keys.get(hazard, hazard), span_start]
        db.execute("UPDATE note SET answered = ? WHERE id = ?", [json.dumps(answered), number])


@MIGRATIONS(name="0015_remedy_keys")
def _remedy_keys(db: Database) -> None:
    """Remedies by key, where their English words had stood, or nothing for the plainest."""
    keys = {
        "Down on the ground": "ground",
        "Down on the ground, out of the wind": "ground-lee",
        "Cover with 1 layer of fleece, clear of the leaves, weighted": "fleece-1",
        "Cover with 2 layers of fleece, clear of the leaves, weighted": "fleece-2",
        "Down on the ground under 1 layer of fleece": "ground-fleece-1",
        "Down on the ground under 2 layers of fleece": "ground-fleece-2",
        "Shut the cold frame": "shut-frame",
        "Shut the greenhouse": "shut-greenhouse",
        "Open the cold frame": "open-frame",
        "Open the greenhouse": "open-greenhouse",
        "Half-shade cloth over": "half-shade",
        "Into full shade": "full-shade",
        "Slit the bag": "slit-bag",
        "Open the bag": "open-bag",
        "Open the bag, and half-shade cloth over": "open-bag-half-shade",
        "Open the bag, and into full shade": "open-bag-full-shade",
        "Open the bag, and open the cold frame": "open-bag-open-frame",
        "Open the bag, and open the greenhouse": "open-bag-open-greenhouse",
        "Check, and water till it drains": "water",
        "Check, and water till it drains; again at midday": "water-twice",
        "Water till it drains, then into full shade": "water-shade",
        "Water till it drains, then into full shade; water again at midday": "water-twice-shade",
    }
    plainest = {"dry-pot": "water", "dry-moss": "wet-moss", "dark": "light", "chill": "indoors"}
    told = db.execute(
        "SELECT DISTINCT remedy, hazard, into_spot IS NOT NULL FROM episode"
        " WHERE told_at IS NOT NULL OR remedy IS NOT NULL"
    )
    for words, hazard, has_spot in told.fetchall():
        if has_spot:
            key = "stay" if words is None else "into-spot"
        else:
            key = keys.get(words, plainest.get(hazard, "shelter"))
        db.execute(
            "UPDATE episode SET remedy = ? WHERE remedy IS ? AND hazard = ?"
            " AND (into_spot IS NOT NULL) = ? AND (told_at IS NOT NULL OR remedy IS NOT NULL)",
            [key, words, hazard, has_spot],
        )


@MIGRATIONS(name="0016_learned_by_place")
def _learned_by_place(db: Database) -> None:
    """What a night's correction follows from, by name. What was learned has another form now, and
    is learned anew from the nights kept."""
    db.executescript(
        """
        ALTER TABLE night_forecast ADD COLUMN clear_calm REAL NOT NULL DEFAULT 0;
        ALTER TABLE night_forecast ADD COLUMN centre_k REAL NOT NULL DEFAULT 0;
        ALTER TABLE night_forecast ADD COLUMN variance_k2 REAL NOT NULL DEFAULT 0;
        UPDATE night_forecast SET clear_calm = json_extract(features, '$[5]')
            WHERE json_valid(features) AND json_type(features, '$[5]') IN ('real', 'integer');
        ALTER TABLE night_forecast DROP COLUMN features;
        DELETE FROM learned;
        """
    )


@MIGRATIONS(name="0017_nights_of_spots")
def _nights_of_spots(db: Database) -> None:
    """Nights of spots were kept with the air of 2 m, and are kept with the air of the spot now.
    What was learned is learned anew from the nights of the garden's own thermometer."""
    db.executescript("DELETE FROM night_forecast WHERE spot <> ''; DELETE FROM learned;")


@MIGRATIONS(name="0018_partings")
def _partings(db: Database) -> None:
    """What a note did to a tree's name and to the garden's file, so that it can be taken back."""
    db.executescript("ALTER TABLE note ADD COLUMN parted TEXT;")
