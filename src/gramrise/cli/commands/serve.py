"""gramrise serve | let-in | devices: the page, and who may open it."""

from datetime import datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from gramrise.cli.context import Household
from gramrise.domain.problems import CouldNotRun, WrongUse

if TYPE_CHECKING:
    from gramrise.store import Device

# The page is named to the server as text, as servers of pages are told what to run: no room of this floor imports it.
PAGE = "gramrise.web:serve_page"
SETTINGS = "gramrise.web.settings:web_settings"
PRIVATE = "gramrise.web.serving.certificate:private_certificate"
SECRETS = "gramrise.web.guard.secrets"


def register(app: typer.Typer) -> None:
    app.command()(serve)
    app.command("let-in")(let_in)
    app.command()(devices)


def serve(
    context: typer.Context,
    host: Annotated[str, typer.Option(help="Where to listen; beyond this machine only over TLS.")] = "127.0.0.1",
    port: Annotated[int | None, typer.Option(help="Port; else that of the settings.")] = None,
    certificate: Annotated[Path | None, typer.Option(help="TLS certificate, PEM; with --key.")] = None,
    key: Annotated[Path | None, typer.Option(help="Its private key, PEM.")] = None,
    behind_proxy: Annotated[bool, typer.Option("--behind-proxy", help="Another server speaks TLS for it.")] = False,
    private: Annotated[
        bool, typer.Option("--private-certificate", help="Make a TLS certificate of this home's own.")
    ] = False,
    scheduled: Annotated[bool, typer.Option("--schedule", help="Do the nights beside it, in one process.")] = False,
) -> None:
    """Serve the page: log, read and answer on phones; the review for a clinic. Stop it with Ctrl-C."""
    from uvicorn.importer import import_from_string

    house: Household = context.obj
    if (certificate is None) != (key is None):
        raise WrongUse("a certificate and its key go together", "give --certificate and --key")
    if private and certificate is not None:
        raise WrongUse("two certificates are named", "give --certificate and --key, or --private-certificate")
    if private:
        own = import_from_string(PRIVATE)(house.home, host, house.now_utc())
        certificate, key = own.certificate, own.key
        house.say(f"Its certificate, SHA-256: {own.fingerprint}")
        trusted = (
            "So that phones trust it, and open the log without network too, install the home's authority on each, "
            f"once: /authority.pem there, or {own.authority}. SHA-256: {own.authority_fingerprint}"
        )
        house.say(trusted)
    if not _is_this_machine(host) and certificate is None and not behind_proxy:
        raise WrongUse(
            f"{host} is beyond this machine, and nothing would be kept secret on the way",
            "give --private-certificate, or --certificate and --key, or --behind-proxy where another server speaks TLS",
        )
    wanted = port or import_from_string(SETTINGS)(house.home).port
    shown = f"[{host}]" if ":" in host else host
    scheme = "https" if certificate else "http"
    house.say(f"The page is at {scheme}://{shown}:{wanted}; let a device in: let-in.")
    try:
        import_from_string(PAGE)(house.home, host, wanted, certificate, key, behind_proxy, scheduled)
    except OSError as problem:  # a certificate that cannot be read, too
        raise CouldNotRun(f"the page cannot be served: {problem}", "look at --certificate and --key") from problem


# By role, what the link does.
_LETS_IN: Final = {
    "helper": "It lets in one device of a helper",
    "parent": "It lets in one device of a parent",
    "clinic": "It lets in one device of a clinic",
}


def let_in(
    context: typer.Context,
    role: Annotated[str, typer.Option("--as", help="helper (logs, sees the card), parent, or clinic (review, sign).")],
    ids: Annotated[
        list[str] | None, typer.Argument(metavar="ID...", help="Whose pages; several for several children.")
    ] = None,
    panel: Annotated[str | None, typer.Option(help="For a clinic: everybody who is in this panel now.")] = None,
    name: Annotated[str | None, typer.Option(help="Who holds it, as the log will name them; else the role.")] = None,
    address: Annotated[str, typer.Option(help="Where the page is reached; else on this machine.")] = "",
) -> None:
    """Print a link, and a QR code of it, that lets one device in, once."""
    import segno
    from uvicorn.importer import import_from_string

    house: Household = context.obj
    if role not in _LETS_IN:
        raise WrongUse(f"'{role}' is no role of a device", "one of: helper, parent, clinic")
    people = _people(house, ids or [], panel, role)
    rules = import_from_string(SETTINGS)(house.home)
    link = import_from_string(f"{SECRETS}:new_secret")()
    until = house.now_utc() + timedelta(hours=rules.link_hours)
    hashed = import_from_string(f"{SECRETS}:hashed")(link)
    house.store.devices.invite(people, role, (name or role).strip()[:40], hashed, until)
    url = f"{(address or f'http://127.0.0.1:{rules.port}').rstrip('/')}/in/{link}"
    print(url)
    segno.make(url).terminal(compact=True)
    house.say(f"{_LETS_IN[role]}, once, within {rules.link_hours} hours. gramrise devices lists all.")


def _people(house: Household, ids: list[str], panel: str | None, role: str) -> list[str]:
    """Ids of those named, or of those in a panel. Raises WrongUse for nobody, and for a family's device on a panel."""
    if panel is not None and role != "clinic":
        raise WrongUse("a panel is a clinic's", "add --as clinic, or name the persons")
    shown = [] if panel is None else house.store.panels.persons_of(panel)
    if panel is not None and not shown:
        raise WrongUse(f"nobody is in the panel '{panel}'", f"gramrise panel {panel} --add ID")
    people = list(dict.fromkeys([*(house.person(each).person_id for each in ids), *shown]))
    if not people:
        raise WrongUse("whose pages?", "name one or more persons: gramrise let-in ID --as parent")
    return people


def devices(
    context: typer.Context,
    shut_out: Annotated[int | None, typer.Option(metavar="NUMBER", help="Shut this device out.")] = None,
) -> None:
    """List devices that may open the page, or shut one out."""
    from gramrise.cli import tables

    house: Household = context.obj
    if shut_out is not None:
        gone = house.store.devices.shut_out(shut_out, house.now_utc())
        house.say(f"Device {shut_out} ({gone.label}, {gone.person_id}) is shut out.")
        return
    now, words = house.now_utc(), house.words()
    tables.show(
        words.say("devices.title"),
        [
            (words.say("devices.number"), "right"),
            (words.say("devices.whose"), "left"),
            (words.say("devices.role"), "left"),
            (words.say("devices.held_by"), "left"),
            (words.say("devices.state"), "left"),
        ],
        [
            (
                str(each.device_id),
                each.person_id,
                words.say(f"devices.as.{each.role}"),
                each.label,
                words.say(f"devices.{_state(each, now)}"),
            )
            for each in house.store.devices.listed()
        ],
        empty=words.say("devices.none"),
    )


def _state(device: "Device", now_utc: datetime) -> str:
    if device.shut_out_at_utc:
        return "shut_out"
    if device.let_in_at_utc:
        return "let_in"
    return "unused" if device.link_until_utc > now_utc else "too_old"


def _is_this_machine(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
