"""What a command prints for people, in the language in use."""

import click

from evidence_app.language import say
from evidence_app.sentence import Sentence


def tell_user(text: str | Sentence, /, err: bool = False, **values: object) -> None:
    """One line: a template with its {named} places filled, or a sentence."""
    click.echo(say(text, **values), err=err)
