"""What a person does on a page, as the browser would send it."""

from nicegui import ui
from nicegui.events import GenericEventArguments, handle_event
from nicegui.testing import User

LOOKS = 600  # a tenth of a second apart, and longer where the machine is busy


class Patient(User):
    """A user who waits for what is to come, however slow the machine; only a failure takes long."""

    async def should_see(self, target=None, *, retries=LOOKS, **more):
        """Wait until something is there."""
        await super().should_see(target, retries=retries, **more)

    async def should_not_see(self, target=None, *, retries=LOOKS, **more):
        """Wait until something is not there, or not any more."""
        await super().should_not_see(target, retries=retries, **more)


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
