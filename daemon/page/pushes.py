"""The push addresses, veiled: one more, one less, and a test of them."""

from __future__ import annotations

import os
from datetime import UTC, datetime

from flask import Blueprint, flash, redirect, render_template, request, url_for
from pydantic import SecretStr

from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.delivery import push_addresses
from underbench.daemon.delivery.push_addresses import DANGER
from underbench.daemon.delivery.trial import LOOK, try_out
from underbench.daemon.faults import Fault
from underbench.daemon.page.auth import keeper_only
from underbench.daemon.page.context import BAD_FORM, deps
from underbench.daemon.page.edit import Answer

SAID = {KEEPER: "yours", DANGER: "yours, a second way for danger only"}

blueprint = Blueprint("pushes", __name__, url_prefix="/tune/pushes")


blueprint.before_request(keeper_only)


@blueprint.get("")
def pushes() -> str:
    """The push addresses, as far as they are no secret."""
    return _pushes()


@blueprint.post("")
def test() -> str:
    """Send a test to every push address, and say how it fared."""
    services = deps().services(deps().settings())
    tried = list(try_out(services, deps().settings().garden.name, datetime.now(UTC)))
    return _pushes([one.words for one in tried])


@blueprint.post("/more")
def add() -> Answer:
    """Add an address."""
    address = SecretStr(request.form.get("address", ""))
    try:
        push_addresses.add(deps().settings(), request.form.get("whose", ""), address, os.environ)
    except Fault as fault:
        return _pushes(fault=f"Nothing was added: {_hushed(fault, address)}."), BAD_FORM
    flash("The address is added. Send a test.")
    return redirect(url_for("pushes.pushes"), 303)


@blueprint.post("/less")
def remove() -> Answer:
    """Take an address out."""
    whose, key = request.form.get("whose", ""), request.form.get("key", "")
    try:
        push_addresses.remove(deps().settings(), whose, key, os.environ)
    except Fault as fault:
        return _pushes(fault=f"Nothing was taken out: {fault}."), BAD_FORM
    flash("The address is taken out.")
    return redirect(url_for("pushes.pushes"), 303)


def _hushed(fault: Fault, address: SecretStr) -> str:
    """A fault's words without the address, should they hold it."""
    typed = address.get_secret_value().strip()
    return str(fault).replace(typed, "***") if typed else str(fault)


def _pushes(tried: list[str] | None = None, fault: str = "") -> str:
    settings = deps().settings()
    try:
        known = list(push_addresses.addresses(settings, os.environ))
    except Fault as unread:
        known, fault = [], fault or str(unread)
    whom = [(one, SAID.get(one, f"{one}'s")) for one in push_addresses.whom(settings)]
    return render_template(
        "pushes.html",
        known=known,
        whom=whom,
        said=dict(whom),
        tried=tried,
        look=LOOK,
        reaches=bool(deps().services(settings).keys),
        fault=fault,
    )
