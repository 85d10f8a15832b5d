"""An advice as the message a grower reads on a phone with cold hands: deeds first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from underbench.daemon.wording.deeds import Benches, cautions, deed_lines, out_of_early_sun
from underbench.daemon.wording.reason import reason
from underbench.daemon.wording.title import title
from underbench.daemon.wording.until import asked_in, until
from underbench.daemon.wording.vocabulary import Made, Teller, Words
from underbench.rules.advice.advice import Advice


def advice_words(
    advice: Advice,
    benches: Benches,
    made: Made,
    teller: Teller,
    now: datetime,
    closing: Iterable[str] = (),
) -> Words:
    """Return the message: what to do, by when and until when, why, ``closing``, and the credit.

    ``benches``: which trees stand at each spot now, in the order in which one walks past.
    """
    deeds, about = deed_lines(advice, benches, teller, now), about_lines(advice, teller, now)
    lines = [*deeds, *about, *closing, teller.credit(made, now)]
    body = "\n".join(filter(None, lines))
    return Words(title(advice, teller, now), body, tuple(job.tree for job in advice.jobs))


def about_lines(advice: Advice, teller: Teller, now: datetime) -> list[str]:
    """Return what goes with the deeds: two people, by when and until when, and why."""
    lines = [
        *cautions(advice),
        until(advice, teller, now),
        asked_in(advice, teller, now),
        out_of_early_sun(advice),
        reason(advice, teller, now),
        *dict.fromkeys(finding.hazard.caution for finding in advice.findings),
    ]
    return list(filter(None, lines))
