"""``--language`` for every command, so that no command has to ask for it."""

import inspect
from collections.abc import Callable
from functools import wraps
from typing import Annotated, Any

import typer

from sitwell.base.words import languages, spoken

Language = Annotated[
    str,
    typer.Option(
        help=f"{' or '.join(languages())}, for what is said and printed; SITWELL_LANGUAGE if left."
    ),
]


def speak(app: typer.Typer) -> None:
    """Let each command of ``app`` speak the language that its ``--language`` asks for."""
    for command in app.registered_commands:
        if command.callback is not None:
            command.callback = _speaking(command.callback)


def _speaking(command: Callable[..., Any]) -> Callable[..., Any]:
    @wraps(command)
    def speaking(*arguments: Any, language: str, **named: Any) -> Any:
        with spoken(_known(language)):
            return command(*arguments, **named)

    signature = inspect.signature(command)
    option = inspect.Parameter("language", inspect.Parameter.KEYWORD_ONLY, default="",
                               annotation=Language)  # fmt: skip
    taken = [*signature.parameters.values(), option]
    speaking.__dict__["__signature__"] = signature.replace(parameters=taken)
    speaking.__annotations__ = {**command.__annotations__, "language": Language}
    return speaking


def _known(language: str) -> str:
    if language and language not in languages():
        known = ", ".join(languages())
        raise typer.BadParameter(f"'{language}' is not spoken here; choose one of {known}.")
    return language
