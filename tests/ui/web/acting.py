"""What a person does on a page, as the browser would send it."""

from nicegui import ui
from nicegui.events import GenericEventArguments, handle_event


def fire(element, event, args):
    """A native control changes."""
    for listener in element._event_listeners.values():
        if listener.type == event:
            given = GenericEventArguments(sender=element, client=element.client, args=args)
            handle_event(listener.handler, given)


def fields(user, kind):
    """The inputs of a kind, in the page's order."""
    found = [e for e in user.find(kind=ui.element).elements if e.props.get("type") == kind]
    return sorted(found, key=lambda element: element.id)


def text_beside(element):
    """What stands with an input in its label."""
    label = element.parent_slot.parent
    return " ".join(getattr(part, "text", "") or "" for part in label.descendants())


def say_yes(user):
    """Tick the box that says the sitter said yes."""
    fire(next(b for b in fields(user, "checkbox") if "said yes" in text_beside(b)), "change", True)
