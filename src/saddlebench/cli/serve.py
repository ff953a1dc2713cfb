"""Serving the practice's pages: everything in one process."""

import secrets
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import guarded, progress, words

if TYPE_CHECKING:
    from saddlebench.web.doors import Doors
    from saddlebench.web.serving import Reach


def serve(
    phone: Annotated[
        bool, typer.Option("--phone", help="Let phones of the same network in, after a pairing code.")
    ] = False,
    port: Annotated[
        int | None, typer.Option("--port", help="Port to listen on; usual: 8642, or the next that is free.")
    ] = None,
    secure_port: Annotated[
        int | None,
        typer.Option(
            "--secure-port",
            help="With --phone: port for encrypted connections; usual: 8643, or the next that is free.",
        ),
    ] = None,
    public_host: Annotated[
        list[str] | None,
        typer.Option("--public-host", help="Hosted: a public name under which a proxy passes requests on."),
    ] = None,
    proxy: Annotated[
        list[str] | None,
        typer.Option(
            "--proxy",
            help="Hosted: the address a proxy connects from; what it says of whom it speaks for is believed.",
        ),
    ] = None,
    demo: Annotated[bool, typer.Option("--demo", help="Serve an invented practice, made anew.")] = False,
    demo_folder: Annotated[
        Path | None, typer.Option("--demo-folder", help="Where `saddlebench demo` put the invented yard.")
    ] = None,
) -> None:
    """Serve the practice's pages on this machine, its records brought up to date first.

    \b
    Examples:
      saddlebench serve
      saddlebench serve --phone
      saddlebench serve --demo
      saddlebench serve --public-host saddles.example.org --proxy 127.0.0.1
    """
    with guarded("serve", as_json=False):
        from saddlebench.cli.warm_beside import Warming
        from saddlebench.datafolder import data_folder, prepare_compiled_cache
        from saddlebench.web.doors import LOOPBACK
        from saddlebench.web.serving import bind_settings, free_port

        reach = _reach(phone, secure_port, public_host or [], proxy or [])
        listening_on = free_port(reach.host, port)
        folder = (demo_folder or data_folder() / "demo-yard") if demo else None
        if folder is not None:
            _run_demo_job(folder)
        data_folder().mkdir(mode=0o700, parents=True, exist_ok=True)
        prepare_compiled_cache()
        bind_settings(reach)
        home = _prepared_home(folder)

        doors = _doors(reach, listening_on)
        warming = Warming()

        def opened() -> None:
            console = words()
            console.print(f"The pages are served. Stop with Ctrl+C. Records: {home}")
            sys.stdout.write(f"http://{LOOPBACK}:{listening_on}/\n")
            sys.stdout.flush()
            if doors is not None:
                _show_phone(reach, listening_on, doors)
            warming.start()

        try:
            _serve_until_stopped(reach, listening_on, home, opened, doors)
        finally:
            warming.stop()


def _prepared_home(demo_folder: Path | None) -> Path:
    """Bring the data folder (the demo's own, or the usual one) to this version, and fill the demo's."""
    from saddlebench.practice.start import start

    if demo_folder is None:
        from saddlebench.datafolder import data_folder

        home = data_folder()
        steps = start(home)
        if steps:
            words().print(f"Records brought to this version in {len(steps)} steps, a backup first.")
        return home
    from saddlebench.demo.folder import fresh_home

    home = fresh_home(demo_folder)
    start(home)
    from saddlebench.demo.practice import EMAIL, LOOK_FIRST, fill_practice

    password = secrets.token_urlsafe(9)
    fill_practice(demo_folder, password)
    words().print(
        "An invented practice: no horse, person or saddle in it exists. It is made anew at every start."
    )
    words().print(f"Sign in as [bold]{EMAIL}[/bold] with the throw-away password [bold]{password}[/bold]")
    words().print(f"Where to look first: {LOOK_FIRST}, whose saddle bridges; then the fit check on its page.")
    return home


def _run_demo_job(folder: Path) -> None:
    """Measure and judge the invented yard, unless the folder holds it already."""
    from saddlebench.demo.folder import is_complete

    if is_complete(folder):
        return
    from saddlebench.cli.warm import warm_up

    with progress(quiet=False) as show:
        warm_up(show)
        from saddlebench.demo.day import run_day

        for _ in run_day(folder, lambda horse: lambda done, of, doing: show(horse.name, done, of, doing)):
            pass


def _reach(phone: bool, secure_port: int | None, hosts: list[str], proxies: list[str]) -> "Reach":
    from saddlebench.datafolder import data_folder
    from saddlebench.engine.errors import input_problem
    from saddlebench.web.serving import SECURE_PORT, Reach, free_port, reach_behind, reach_from_phone

    if phone and (hosts or proxies):
        cure = "Choose one: phones of the same network, or a proxy on this machine."
        raise input_problem("--phone and --public-host or --proxy do not go together", cure)
    if secure_port is not None and not phone:
        raise input_problem("--secure-port needs --phone", "Add --phone, or leave it out.")
    if phone:
        everywhere = "0.0.0.0"  # noqa: S104
        return reach_from_phone(free_port(everywhere, secure_port, first=SECURE_PORT), data_folder())
    return reach_behind(hosts, proxies) if hosts or proxies else Reach()


def _doors(reach: "Reach", port: int) -> "Doors | None":
    """Return the doors for phones, with a certificate for this machine's addresses."""
    if reach.trusted_in is None:
        return None
    from saddlebench.web.doors import Doors
    from saddlebench.web.serving import answer_to

    def moved(addresses: tuple[str, ...]) -> None:
        answer_to(addresses)
        words().print("\nThis machine's address has changed. Phones that trust it need not be asked again.")
        _show_addresses(addresses, port, reach)

    return Doors(reach.trusted_in, reach.addresses, moved)


def _show_phone(reach: "Reach", port: int, doors: "Doors") -> None:
    console = words()
    if not reach.addresses:
        console.print("This machine is in no network: join one; its address is then shown here.")
    else:
        _show_addresses(reach.addresses, port, reach)
    console.print(f"Pairing code: [bold]{reach.pairing_code[:4]} {reach.pairing_code[4:]}[/bold]")
    console.print("What the phone has to show before it is told to trust (SHA-256):")
    console.print(f"[bold]{doors.served.authority.fingerprint}[/bold]")


def _show_addresses(addresses: tuple[str, ...], port: int, reach: "Reach") -> None:
    import segno

    from saddlebench.practice.keeping.certificates import is_private

    console = words()
    plain = f"http://{addresses[0]}:{port}"
    console.print(
        "\nOnce per phone, in the same network: point its camera at this, and do what the page says."
    )
    segno.make(f"{plain}/trust/", error="m").terminal(out=sys.stderr, compact=True)
    console.print(f"Or type: [bold]{plain}/trust/[/bold]")
    secure = [f"https://{one}:{reach.secure_port}/" for one in addresses if is_private(one)]
    console.print(f"From then on, with and without signal: [bold]{' or '.join(secure)}[/bold]")
    console.print(
        f"For looking only, in the same network: {plain}/  (not encrypted: use a network that you trust; "
        "nothing is kept without signal)"
    )


def _serve_until_stopped(
    reach: "Reach", port: int, home: Path, opened: Callable[[], None], doors: "Doors | None"
) -> None:
    from saddlebench.practice.keeping.lock import hold_database, hold_folder
    from saddlebench.web.serving import serve as serve_pages

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, stop)
    with hold_folder(home), hold_database():
        with suppress(KeyboardInterrupt, SystemExit):
            serve_pages(reach, port, home, opened, doors)
        words().print("Stopped. What pages said was saved is saved.")
