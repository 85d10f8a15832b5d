"""Who gets in: hosts, the password, sessions, and the token that every form carries."""

from __future__ import annotations

import hmac
import secrets
from datetime import datetime, timedelta
from hashlib import sha256
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import (
    Blueprint,
    Flask,
    Request,
    Response,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from flask.sessions import SecureCookieSessionInterface
from itsdangerous import BadData, URLSafeTimedSerializer
from werkzeug.security import check_password_hash, generate_password_hash
from werkzeug.wrappers import Response as AnyResponse

from underbench.daemon.page.context import deps, now, store
from underbench.daemon.page.guess_limit import Guesses
from underbench.daemon.store.store import Store

DEVICE = "underbench-known"  # a cookie of a device from which the password came before
PASSWORD, SIGNING_KEY = "password", "signing key"
GUEST = "underbench-guest"  # a cookie of its own: a link opened by the keeper ends no session
SHORTEST, LONGEST = 10, 200  # characters; judgement: guesses are few, see guess_limit.py
HASHED = "scrypt"  # as long to guess at as werkzeug's authors think right
STAYS = timedelta(days=30)
# share.enter checks a stand-in's link itself.
OPEN_ENDPOINTS = ("auth.enter", "auth.entered", "static", "manifest", "worker", "share.enter")
# It has a token of its own and answers nobody without it, see note_readings.take.
TOKEN_ENDPOINT = "readings.take"
# The token in its address opens one message's answer, see delivery/answer_links.py. Nobody else
# knows the address, so no other site can post there, and a session would end the keeper's own.
ANSWER_ENDPOINTS = ("answer.ask", "answer.give")
SAFE_METHODS = ("GET", "HEAD")
A_YEAR_S = 365 * 86_400
POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'self';"
    " connect-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none';"
    " base-uri 'none'"
)

blueprint = Blueprint("auth", __name__)


def set_password(kept: Store, password: str, at: datetime) -> None:
    """Keep a password's hash (scrypt); ends every session. Raises ValueError if it is too short."""
    kept.pages.keep(PASSWORD, generate_password_hash(fit_password(password), HASHED), at)


def fit_password(password: str) -> str:
    """Return a password that may be one. Raises ValueError if it is too short or too long."""
    if not SHORTEST <= len(password) <= LONGEST:
        raise ValueError(f"a password has {SHORTEST} to {LONGEST} characters")
    return password


def has_password(kept: Store) -> bool:
    """Whether a password is set."""
    return kept.pages.kept(PASSWORD) is not None


def reader_of(_request: Request) -> str | None:
    """Return the name of the stand-in who looks by a link and may change nothing. None for the
    keeper, who stays the keeper with a link, and once the link is revoked."""
    number = _kept(GUEST, int(STAYS.total_seconds()))
    guest = store().guests.still_welcome(number) if isinstance(number, int) else None
    if guest is None:
        return None
    kept = store().pages.kept(PASSWORD)
    return None if kept is not None and _is_in(kept[0]) else guest.name


def keeper_only() -> None:
    """Let no guest in, where it is asked before a request."""
    if reader_of(request):
        abort(403)


def let_in(answer: Response, guest: int) -> None:
    """Send a guest's number along, as a cookie that nobody else can make."""
    _keep(answer, GUEST, guest, int(STAYS.total_seconds()))


def _keep(answer: AnyResponse, name: str, value: int | str, stays_s: int) -> None:
    answer.set_cookie(
        name,
        str(_signer(name).dumps(value)),
        max_age=stays_s,
        secure=request.is_secure,
        httponly=True,
        samesite="Strict",
    )


def _kept(name: str, stays_s: int) -> object:
    """What a cookie of ours holds; None if there is none, or another made it."""
    try:
        return _signer(name).loads(request.cookies.get(name, ""), max_age=stays_s)
    except BadData:
        return None


def _signer(name: str) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(str(current_app.secret_key), salt=name)


def csrf_token() -> str:
    """Return this session's token, for the hidden field ``csrf`` of every form."""
    if "csrf" not in session:
        session["csrf"] = secrets.token_urlsafe(24)
    return str(session["csrf"])


class SecureWhereItCan(SecureCookieSessionInterface):
    """Sessions in a signed cookie, marked Secure wherever the page comes over TLS."""

    def get_cookie_secure(self, app: Flask) -> bool:
        """Whether this request came over TLS, as waitress or a trusted proxy says."""
        return request.is_secure


def guard(app: Flask, hosts: frozenset[str]) -> None:
    """Check every request; ``hosts`` are names besides this machine's own."""
    keep_sessions(app)
    app.extensions["guesses"] = Guesses()
    app.before_request(lambda: check_host(hosts))
    app.before_request(_check_form)
    app.before_request(_check_session)
    app.after_request(headers)
    app.register_blueprint(blueprint)
    app.jinja_env.globals.update(csrf_token=csrf_token, reader=lambda: reader_of(request))


def keep_sessions(app: Flask) -> None:
    """Set how long sessions stay, and who sees their cookie."""
    app.session_interface = SecureWhereItCan()
    app.config.update(
        SESSION_COOKIE_NAME="underbench",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        PERMANENT_SESSION_LIFETIME=STAYS,
        SEND_FILE_MAX_AGE_DEFAULT=3600,
        MAX_CONTENT_LENGTH=256 * 1024,
    )


def check_host(hosts: frozenset[str]) -> None:
    """Refuse names that are not ours: somebody else may point them here (DNS rebinding). An address
    in numbers cannot be pointed elsewhere."""
    name = urlsplit(f"//{request.host}").hostname or ""
    if name == "localhost" or name in hosts:
        return
    try:
        ip_address(name)
    except ValueError:
        abort(421)


def _check_form() -> None:
    if request.method in SAFE_METHODS or request.endpoint == TOKEN_ENDPOINT:
        return
    check_origin(deps().settings().page.address)
    if request.endpoint not in ANSWER_ENDPOINTS:
        check_token()


def check_origin(known_at: str | None) -> None:
    """Refuse a form that another site sent. Behind a proxy that is not named, the browser knows the
    page by the address ``known_at``."""
    origin, address = request.headers.get("Origin"), urlsplit(known_at or "")
    ours = {request.host_url.rstrip("/"), f"{address.scheme}://{address.netloc}"}
    if origin is not None and origin not in ours:
        abort(400, "This form came from another site.")


def check_token() -> None:
    """Refuse a form without the token of this visitor's session."""
    sent, held = request.form.get("csrf", ""), session.get("csrf", "")
    if not held or not hmac.compare_digest(sent.encode(), str(held).encode()):
        abort(400, "This form is too old: go back, load the page anew, and send it again.")


def _check_session() -> AnyResponse | None:
    kept = store().pages.kept(PASSWORD)
    if request.endpoint in (*OPEN_ENDPOINTS, *ANSWER_ENDPOINTS, TOKEN_ENDPOINT):
        return None
    if reader_of(request) is not None:
        may = request.method in SAFE_METHODS or request.endpoint == "auth.leave"
        return None if may else abort(403)
    if kept is None or _is_in(kept[0]):
        return None
    if request.method not in SAFE_METHODS:
        return redirect(url_for("auth.enter"), 303)
    return redirect(url_for("auth.enter", to=request.full_path.rstrip("?")), 303)


def _is_in(password_hash: str) -> bool:
    since = session.get("since")
    same = hmac.compare_digest(str(session.get("by", "")), _mark(password_hash))
    if not same or not isinstance(since, int):
        return False
    age_s = now().timestamp() - since
    return 0 <= age_s < STAYS.total_seconds()


def _mark(password_hash: str) -> str:
    """What ties a session to the password it was opened with; a new password ends all sessions."""
    return sha256(password_hash.encode()).hexdigest()[:16]


@blueprint.get("/enter")
def enter() -> str | AnyResponse:
    """The form that asks for the password."""
    if store().pages.kept(PASSWORD) is None:
        return redirect("/", 303)
    return render_template("enter.html", to=inside(request.args.get("to", "/")))


@blueprint.post("/enter")
def entered() -> AnyResponse | tuple[str, int] | tuple[str, int, dict[str, str]]:
    """Check the password, as often as the limit on guesses allows."""
    to = inside(request.form.get("to", "/"))
    kept = store().pages.kept(PASSWORD)
    if kept is None:
        return redirect("/", 303)
    if wait := guess_wait():
        told = f"Too many guesses. Try again in {spoken(wait)}."
        page = render_template("enter.html", to=to, fault=told)
        return page, 429, {"Retry-After": str(wait)}
    if not check_password_hash(kept[0], request.form.get("password", "")[:LONGEST]):
        return render_template("enter.html", to=to, fault="That is not the password."), 403
    answer = redirect(to, 303)
    stay_in(answer)
    return answer


def guess_wait() -> int:
    """Count a guess at the password. Return the seconds that it has to wait; 0: it may be tried."""
    guesses: Guesses = current_app.extensions["guesses"]
    wait = guesses.wait(_guesser(), now(), known=bool(_device()))
    return max(1, round(wait.total_seconds())) if wait > timedelta(0) else 0


def stay_in(answer: AnyResponse) -> None:
    """Open a session for whoever knew the password, and know their device from then on."""
    current_app.extensions["guesses"].right(_guesser())
    kept = store().pages.kept(PASSWORD)
    session.clear()
    session.permanent = True
    session["by"] = _mark(kept[0]) if kept else ""
    session["since"] = int(now().timestamp())
    _keep(answer, DEVICE, _device() or secrets.token_urlsafe(12), A_YEAR_S)
    answer.delete_cookie(GUEST)


def _guesser() -> str:
    """Whose guess it is: a known device's, or an address's."""
    known = _device()
    return f"device {known}" if known else request.remote_addr or ""


def _device() -> str:
    """The mark of a device that knew the password before; empty for any other. What others guess
    does not make it wait."""
    found = _kept(DEVICE, A_YEAR_S)
    return found if isinstance(found, str) else ""


@blueprint.post("/leave")
def leave() -> AnyResponse:
    """End the session, or a guest's stay."""
    session.clear()
    answer = redirect(url_for("auth.enter"), 303)
    answer.delete_cookie(GUEST)
    answer.headers["Clear-Site-Data"] = '"storage"'  # what the worker keeps for when it is away
    return answer


def inside(to: str) -> str:
    """The path ``to`` if it is on this page, else the start; never an address elsewhere."""
    plain = to.startswith("/") and not to.startswith(("//", "/\\")) and "\\" not in to
    return to if plain and to.isprintable() else "/"


def spoken(seconds: int) -> str:
    """Return a wait in words."""
    return f"{seconds} seconds" if seconds < 90 else f"{round(seconds / 60)} minutes"


def headers(response: Response) -> Response:
    """Add what tells a browser to trust nothing from elsewhere."""
    response.headers.setdefault("Content-Security-Policy", POLICY)
    response.headers.update(
        {
            "X-Content-Type-Options": "nosniff",
            # With no-referrer, browsers send "Origin: null" with our own forms (Fetch standard,
            # "append a request Origin header"). To other sites, same-origin tells as little.
            "Referrer-Policy": "same-origin",
            "Cross-Origin-Opener-Policy": "same-origin",
            "Cross-Origin-Resource-Policy": "same-origin",
        }
    )
    if request.is_secure:  # as waitress or a named proxy says (RFC 6797)
        response.headers["Strict-Transport-Security"] = f"max-age={A_YEAR_S}"
    if request.endpoint != "static":
        response.headers["Cache-Control"] = "no-store"
    return response
