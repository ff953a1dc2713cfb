"""The command line; thin."""


def main() -> None:
    """Run the command line."""
    from saddlebench.cli.app import app

    app()
