"""What may stand in the gaps of sentences that no test asserts whole, for their examples."""

from __future__ import annotations

# By the name of a gap.
SAMPLES = {
    "name": "Ember", "tree": "Ember", "trees": "Ember and Heath", "joined": "Ember and Heath",
    "in_a_sentence": "Ember and Heath", "named": "Ember and Heath", "who": "Ember and Heath",
    "join": "Ember, Heath", "path": "garden.toml", "file": "weather.csv", "line": "12",
    "NAME": "Open-Meteo", "day": "23 April", "night": "Tuesday 23 April", "when": "20:00 tomorrow",
    "last": "07:00 Thursday", "until": "Thursday", "first": "10 November", "at": "06:00",
    "_when": "Wed 24 Apr 06:00", "local": "Wed 24 Apr 06:00", "seen": "06:00", "now": "06:00",
    "strerror": "No space left on device", "value": "2.5", "temp": "−2.5 °C", "worst": "−5.4 °C",
    "quantity": "−2.5 °C", "volume": "4.0 L", "chance": "35%", "share": "35%", "count": "3",
    "len": "3", "years": "4", "weeks": "8", "minutes": "20", "hours": "12", "status": "403",
    "elevation_m": "120", "listen": "127.0.0.1:8640", "spot": "top bench", "place": "top bench",
    "where": "2 at shed", "garden": "Orchard End", "title": "PROTECT 2 trees by 20:00 today",
    "work": "repot", "kind": "bench", "stage": "leafing out", "fate": "fine", "film": "clear",
    "unit": "°C", "section": "tree", "field": "litres", "key": "litres", "option": "--on",
    "database": "underbench.db", "dated": "repot of 13 April", "credit": "Forecast of 17:10 today.",
    "attribution": "Weather data by Open-Meteo.com (CC BY 4.0)", "members": "51",
    "temp_difference": "5 °C", "home": "top bench", "back": "17:00 Thursday",
    "by": "20:00", "what": "2 trees", "doubt": "in leaf", "shown": "'cold'", "hint": "",
    "reason": "timed out", "why": "the weather service did not answer in time", "known": "3",
    "_alerts": "2 alerts more", "temp_whole": "−3 °C", "EARLIEST_YEAR": "1970", "typed": "repot",
    "new_name": "Spark", "_place": "broker.example:1883", "SHORTEST": "8", "LONGEST": "200",
    "_spoken": "30 s", "warmth": "140 °C·d", "found": "5", "SPOKEN": "dew point or humidity",
    "stand_in": "Ilse", "__name__": "ValueError", "girdled": "a third", "how": "standing loose",
    "_FLEECE": "of fleece, clear of the leaves, weighted", "year": "2026", "today": "2 alerts more",
    "its": "its", "_span": "10 Mar–5 Apr", "floor": "−1.0 °C", "hang": "Leaves that hang by noon",
    "host": "127.0.0.1", "port": "8640", "versions": "Underbench 1.0, Python 3.11.7",
    "own": "1.0", "python_version": "3.11.7", "sqlite_version": "3.45.1", "free_mb": "12",
    "here": "17:10", "then": "16:40", "every_days": "3", "layers": "2 layers", "side": "beyond",
    "_value": "−3.3 °C", "_step": "0.8 °C", "measured_on": "leaf tissue", "temp_step": "1.6 °C",
    "surface": "grass", "up": "80 cm above", "kill": "15%", "harm": "30%", "kill_chance": "5%",
    "_chances": "30%", "lower": "frost", "passes": "412", "danger": "2", "in_gaps": "4",
    "chances": "Chances are of 51 weathers", "models": "ecmwf_ifs025_ensemble", "made": "17:30",
    "astimezone": "Fri 19 Jul 17:00", "messages": "7", "low": "−2 °C", "high": "6 °C",
    "gusts": "9 m/s", "sum": "3", "limit": "−2.5 °C", "short": "frost", "felt": "−4.1 °C",
    "bare": "", "by_day": "night", "reopened": "Ember", "parent": "Old Stump", "length": "40 cm",
    "listed": "Ember and Heath", "LONGEST_PAYLOAD": "4096", "MOST_AT_ONCE": "500",
    "spread_share": "80%", "quote": "garden", "LEAST_NIGHTS": "20", "room": "4",
    "NO_MORE": "none", "fault": "the place-name service did not answer", "_ago": "12 min ago",
    "_most": "5000", "revoke": "Ilse", "service": "entry 1 (json://1***)", "copy": "copy.db",
    "LARGEST_BODY": "65536", "guest": "Ilse", "bench": "−4 °C", "number": "40", "days": "Thu, Fri",
    "litres": "4", "CROWN_OF_HEIGHT": "0.85", "FILL": "0.9", "shape": "rectangle",
    "variable": "UNDERBENCH_GARDEN", "NO_ENSEMBLE": "none", "max_length": "40",
    "header": "[[spot]]",
    "twice": "temperature_c", "width": "7", "deadline_s": "20", "MOST_BYTES": "16",
    "theirs": "temperature_2m", "get": "K", "end": "2027-04-20 00:00", "most_k": "15",
    "species": "Olearia traversii", "likely": "9 March", "LONGEST_BODY": "4000", "body": "5200",
    "latitude": "52.25", "longitude": "-1.50", "timezone": "Europe/London", "spots": "3",
    "source": "Open-Meteo", "error": "quotes not closed", "line_num": "12", "moment": "2027-04-20",
    "_names": "Ember, Heath", "many": " (2)", "names": "Ember, Heath", "cases": "5",
    "sheet": "Orchard End", "good": "3", "more": "2", "noted": "12 notes", "told": "gale (2)",
    "LONGEST_BRIDGED_GAP_H": "3", "written": "leaf_frost_c = -2 for Ember", "safe": "They are safe",
    "start": "attic", "format": "Ember grows in the open ground", "LOOK": "Look at each phone now",
    "look": "check-bag", "reach": "Thu 14 Feb", "since": "5 weeks since the start layer of 1 May",
    "NAMED": "5", "OUT_OF_SEASON": "not its season", "pop": "from 4 Nov", "wrong": "2",
    "often": "Every 3 days", "shut": ", shut", "_job_line": "PROTECT by 20:00: Ember. Frost.",
    "INDENT": "", "to": " to the shed", "split": "m/s", "span_of": "1 Jan to 10 Feb 2013",
    "_listed": "frost (4), gale (1)", "on": " on 23 April", "words": "−1.9 °C",
    "_DOUBTS": "a spike",
    "text": "25:00", "kept": " What was there is kept as garden.db.1.", "thing": "things are",
    "or": "31F", "there": "none is called Ilsa", "meant": "did you mean 'Acer palmatum'? ",
    "add": 'add hardiness = "a class"', "guess": "taken as dry", "between": " between these days",
    "COLUMN_OF": "temperature_c", "_or": "temperature_c", "_shown": "'noon'", "abs": "0.6",
    "colder_k": "colder", "HOW": "--weather FILE.csv", "_setting": "address", "_name": "Open-Meteo",
    "way": "https://garden.example/do/", "span": "23 April", "off": "3 °C", "table": "(table)",
    "said": "-2.0", "longest": "1000", "ADVICE_ON": "", "_nearest_species": "(did you mean 'elm'?)",
    "_reservation": "", "prefix": "underbench", "node": "ember", "n": "1", "size": "12",
    "winter_year": "2026", "hardiness": '"hardy broadleaf"',
    "strip": '"top bench"', "inside": '"07:00"', "_near": "",
}  # fmt: skip
# By the sentence, where the samples of its gaps would make nonsense.
EXAMPLES = {
    "{worst} of the water left": "10% of the water left",
    "{worst} of the water left in it": "20% of the water left in it",
    "by then for {worst}": "by then for 70 h",
    "{worst} of rain at the brim": "11 days of rain at the brim",
    "frozen through for {worst}": "frozen through for 92 h",
    "The same on the days after, until {local}.": "The same on the days after, until Friday.",
    "leave them {down}{both}": "leave them down, leave the covers on",
    "{back}, and covers off": "Back up, and covers off",
    "Leave it so for the whole warm spell, until {last} at least.": (
        "Leave it so for the whole warm spell, until Friday at least."
    ),
    "Shut it before dusk. The same on the days after, until {last}.": (
        "Shut it before dusk. The same on the days after, until Friday."
    ),
    "And {named} earlier ones.": "And 3 earlier ones.",
    "from {when} to {when}": "from 20:00 today to 06:00 tomorrow",
    "{credit} FORECAST IN DOUBT: {doubt}. Look at another one too.": (
        "Forecast of 17:10 today. FORECAST IN DOUBT: air that leaps by 15 K in an hour. Look at "
        "another one too."
    ),
    "{_days_after} Shade may come off {back}.": (
        "The same on the days after, until Friday. Shade may come off 18:00 Friday."
    ),
    "From {spot} to {home}{off}{many}: {_names}": (
        "From the shed to the top bench (2): Ember, Heath"
    ),
    "{words}, last on {night}.": "Drying out while frozen, last on Wednesday 9 January.",
    "{safe}, as far as the forecast reaches.": (
        "No frost or gale threatens them there, as far as the forecast reaches."
    ),
    "{first}{others}. Until it is put right the garden is watched as it was.": (
        "garden.toml:12: litres: expected a number. Until it is put right the garden is watched as "
        "it was."
    ),
    "day to {value}: the bag in shade only": "day to 14 °C: the bag in shade only",
    "nights too cold: {value}": "nights too cold: −6 °C",
    "frost at the roots: {value} within two nights, {chance}": (
        "frost at the roots: −3.4 °C within two nights, 65% chance"
    ),
    "frost, branches are brittle: {value}": "frost, branches are brittle: −4 °C",
    "frost within eight weeks in {chance} of the years here": (
        "frost within eight weeks in 35% of the years here"
    ),
    "{weeks} week{weeks} since the {dated}": "3 weeks since the start layer of 13 April",
    "{count} alert{count} more": "2 alerts more",
    "Last good days to {_done_to}: {its} season ends on {last}.": (
        "Last good days to repot Ember: its season ends on 20 April."
    ),
    "{good} good {good} ahead": "3 good days ahead",
    "{_sign}: {what} this week, if it then stands free of frost.": (
        "Buds swelling on Ember: repot this week, if it then stands free of frost."
    ),
    "Today rather than {day}: then {doubt}.": "Today rather than Friday: then in leaf.",
    "usually opens {_span} here ({years})": "usually opens 10 Mar–5 Apr here (4 years)",
    "{words} ({known} of {cases} kept)": "3 frost days (4 of 5 kept)",
    "A night so cold is forecast by {night} {_day}: {named}.": (
        "A night so cold is forecast by Friday night: Ember."
    ),
    "Pots thaw on {day}: water {named_or_counted} once they are soft.": (
        "Pots thaw on Friday: water Heath and Boxer once they are soft."
    ),
    "To do: {words}, {_by}.": "To do: Into the shed, by Thu 04 Apr 19:20.",
    "Nearest to a limit: {lower}, {_when} to {_when}.": (
        "Nearest to a limit: frost, Wed 24 Apr 12:00 to Thu 25 Apr 12:00."
    ),
    "At home, {home}, it would be: {_found}": (
        "At home, at top bench, it would be: PROTECT, act: Frost −3.4 °C at Wed 24 Apr 06:00."
    ),
    "The air {name} comes to {temp} at {_when}, {temp_step} below the forecast's: the trees stand "
    "{up} {surface}.": (
        "The air at top bench comes to −4.5 °C at Mon 01 Apr 07:00, 1.6 °C below the forecast's: "
        "the trees stand 80 cm above grass."
    ),
    "Told: {short} {worst} (limit {limit}), chance {chance}.": (
        "Told: frost −5.4 °C (limit −2.5 °C), chance 85%."
    ),
    "the {by_day} of {day} {day}": "the night of 23 April",
    "Foreseen, to be told {astimezone}: {title} ({trees})": (
        "Foreseen, to be told Fri 19 Jul 17:00: SHADE 3 trees by 07:30 (Larch, Ember, Heath)"
    ),
    "{stage} at the early edge, likely from {likely}{until}": (
        "leafing out at the early edge, likely from 9 March until 20 March"
    ),
    "Down on the ground under {words} of fleece": "Down on the ground under 2 layers of fleece",
    "did {look}, or {what}": "did check-bag, or unbag",
    "{_reservation}Doing it today brings {more} than leaving the tree alone.": (
        "Doing it today brings 2 alerts more than leaving the tree alone."
    ),
    "Neither day is better: today brings {today}, {day} {then}.": (
        "Neither day is better: today brings 2 alerts more, Friday 1 alert more."
    ),
    "{name}, {trees} trees on {spots} spots, {latitude}, {longitude}, {elevation_m} m, "
    "{timezone}": ("Orchard End, 12 trees on 3 spots, 52.25, -1.50, 120 m, Europe/London"),
    ", but not {wrong}": ", but not line 12",
    "BAD secrets: {what}": "BAD secrets: telling_urls can be read by others: chmod 600",
    "air: {up} above the ground, as the forecast has it.": (
        "air: 2 m above the ground, as the forecast has it."
    ),
    "hardiness class: {hardiness}, {kind}": "hardiness class: birch, broadleaf deciduous",
    "Last, with two people: {lower}{to}": "Last, with two people: into the shed",
    "{noted}, moved back {years} year{years} to meet this weather.": (
        "12 notes, moved back 2 years to meet this weather."
    ),
    "{key} of {name} ({trees} {trees}), rehearsed with {name}: {span_of}.": (
        "leaf_frost_c of Ember (1 tree), rehearsed with jfk.csv: 1 Jan to 10 Feb 2013."
    ),
    "{local} {day} {local}: {low} to {high}, gusts to {gusts}, {sum} mm of rain.": (
        "Tuesday 23 April: −2 °C to 6 °C, gusts to 9 m/s, 3 mm of rain."
    ),
    "no species called {name}{hint}": (
        "no species called 'Acer palmatun'; did you mean Acer palmatum?"
    ),
    "{trees} seen to as told {on}": "Ember and Heath seen to as told on 23 April",
    "{name} is a tree of its own now, from {parent}: {volume} {kind}, {length} high, at {spot}. If "
    "that is not so, write it into the configuration under that name.": (
        "Spark is a tree of its own now, from Old Stump: 4.0 L pot, 40 cm high, at top bench. If "
        "that is not so, write it into the configuration under that name."
    ),
    "--as {new_name}: goes with sever-layer and divide, not with {kind}": (
        "--as Spark: goes with sever-layer and divide, not with repot"
    ),
    "The weather service had {words}.": "The weather service had −1.9 °C.",
    "{path}: {said}. More: {path} --help": "underbench did: Missing argument. More: underbench did "
    "--help",
    "Kept in {kept}, which only you can read.": (
        "Kept in secrets/telling_urls, which only you can read."
    ),
    "Copied to {to}. Keep a copy of the garden's file with it.": (
        "Copied to copy.db. Keep a copy of the garden's file with it."
    ),
    "{to}: is there already, and is not written over": (
        "copy.db: is there already, and is not written over"
    ),
    "bagged on {since}": "bagged on 20 March",
    "{trees} of {number} trees.": "12 of 40 trees.",
    "For whoever looks after it. As of {sheet}.": "For whoever looks after it. As of 23 April.",
    "Least harm for the fewest carries: {said}. To set a value, write into the garden's file:": (
        "Least harm for the fewest carries: −2.0. To set a value, write into the garden's file:"
    ),
}
