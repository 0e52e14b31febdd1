"""The `serve` command: Foible in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from foible.cli.options import Data, KitFolders, Photos, RulesFiles

__all__ = ["serve"]


# long: a line for each option
def serve(
    *,
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Port to listen on.")] = 8711,
    data: Data = None,
    photos: Photos = None,
    demo: Annotated[bool, typer.Option("--demo", help="Add example cases from the invented Lanternfield Autumn Open.")] = False,
    share: Annotated[bool, typer.Option("--share", help="Let other devices on the network join, with a passphrase.")] = False,
    passphrase: Annotated[
        str | None,
        typer.Option(
            "--passphrase",
            help="The passphrase; by default one is made up. Here every user of the machine sees it; prefer the variable.",
            envvar="FOIBLE_PASSPHRASE",
        ),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option("--workers", min=1, max=16, help="Server processes; by default one, or with --share one for each core."),
    ] = None,
    browse: Annotated[bool, typer.Option("--browse/--no-browse", help="Open the browser.")] = True,
    copies: Annotated[
        int, typer.Option("--copies", min=0, max=1000, help="Daily copies of the records to keep; 0 makes none.")
    ] = 14,
    copies_in: Annotated[
        Path | None, typer.Option("--copies-in", metavar="FOLDER", help="Where they lie; by default beside the records.")
    ] = None,
    proxy: Annotated[
        str | None,
        typer.Option(
            "--behind-proxy", metavar="ADDRESS", help="The address of a proxy that others come through; see also --name."
        ),
    ] = None,
    names: Annotated[
        list[str] | None,
        typer.Option("--name", metavar="HOST", help="A name that devices know Foible or its proxy by; may be repeated."),
    ] = None,
    tls: Annotated[
        bool, typer.Option("--tls", help="Encrypt connections, with a certificate that Foible makes and keeps.")
    ] = False,
    certificate: Annotated[
        Path | None, typer.Option("--certificate", metavar="FILE", help="Encrypt them with this certificate (PEM).")
    ] = None,
    key: Annotated[
        Path | None, typer.Option("--key", metavar="FILE", help="Its private key; by default in the same file.")
    ] = None,
    log: Annotated[
        str | None,
        typer.Option("--log", metavar="FILE", help="Log a line of JSON for each request and each change; “-” is the terminal."),
    ] = None,
    kit: KitFolders = None,
    rules: RulesFiles = None,
) -> None:
    """Open Foible in the browser, on a phone, a tablet or a laptop; cases are kept."""
    from foible.web.serve import ServeOptions, serve_until_stopped

    serve_until_stopped(
        ServeOptions(
            port=port,
            data=data,
            photos=photos,
            demo=demo,
            share=share,
            passphrase=passphrase,
            workers=workers,
            kit=tuple(kit or ()),
            rules=tuple(rules or ()),
            browse=browse,
            copies=copies,
            copies_in=copies_in,
            proxy=proxy,
            names=tuple(names or ()),
            certificate=certificate,
            key=key,
            tls=tls,
            log=log,
        )
    )
