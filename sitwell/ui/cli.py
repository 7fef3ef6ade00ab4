"""One command per step of the work; our errors become one sentence on standard error."""

import typer

app = typer.Typer(no_args_is_help=True, add_completion=False)


@app.callback()
def _top() -> None:
    """Plan, shoot, check and sort a portrait sitting, from this sitter's own face."""


def main() -> None:
    """Run the command line."""
    app()
