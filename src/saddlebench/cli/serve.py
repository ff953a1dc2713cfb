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
    from saddlebench.web.serving import Reach


def serve(
    phone: Annotated[
        bool, typer.Option("--phone", help="Let phones of the same network in, after a pairing code.")
    ] = False,
    port: Annotated[
        int | None, typer.Option("--port", help="Port to listen on; usual: 8642, or the next that is free.")
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
    """
    with guarded("serve", as_json=False):
        from saddlebench.cli.warm_beside import Warming
        from saddlebench.datafolder import data_folder, prepare_compiled_cache
        from saddlebench.web.serving import LOOPBACK, Reach, bind_settings, free_port, reach_from_phone

        reach = reach_from_phone() if phone else Reach()
        listening_on = free_port(reach.host, port)
        folder = (demo_folder or data_folder() / "demo-yard") if demo else None
        if folder is not None:
            _run_demo_job(folder)
        data_folder().mkdir(mode=0o700, parents=True, exist_ok=True)
        prepare_compiled_cache()
        bind_settings(reach)
        home = _prepared_home(folder)

        warming = Warming()

        def opened() -> None:
            console = words()
            console.print(f"The pages are served. Stop with Ctrl+C. Records: {home}")
            sys.stdout.write(f"http://{LOOPBACK}:{listening_on}/\n")
            sys.stdout.flush()
            if reach.pairing_code:
                _show_phone(reach, listening_on)
            warming.start()

        try:
            _serve_until_stopped(reach.host, listening_on, home, opened)
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


def _show_phone(reach: "Reach", port: int) -> None:
    import segno

    console = words()
    if not reach.addresses:
        console.print("This machine is in no network: join one, then start again.")
        return
    address = f"http://{reach.addresses[0]}:{port}/"
    console.print(f"\nOn the phone, in the same network: [bold]{address}[/bold]")
    console.print(f"Pairing code: [bold]{reach.pairing_code[:4]} {reach.pairing_code[4:]}[/bold]")
    console.print("Or point the phone's camera at this:")
    segno.make(f"{address}?code={reach.pairing_code}", error="m").terminal(out=sys.stderr, compact=True)
    console.print("What goes between phone and laptop is not encrypted: use a network that you trust.")


def _serve_until_stopped(host: str, port: int, home: Path, opened: Callable[[], None]) -> None:
    from saddlebench.practice.keeping.lock import hold_database, hold_folder
    from saddlebench.web.serving import serve as serve_pages

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, stop)
    with hold_folder(home), hold_database():
        with suppress(KeyboardInterrupt, SystemExit):
            serve_pages(host, port, home, opened)
        words().print("Stopped. What pages said was saved is saved.")
