"""Verbs on what a person keeps at the desk: named views of a list, how bright their screen is, and its language."""

from fleet.models import Language, Person, SavedView, ScreenChoice, Theme
from fleet.record.kernel import audit, put, verb
from fleet.refusal import Refused

MOST_VIEWS = 30


@verb
def save_view(*, by: Person, page: str, name: str, query: str) -> SavedView:
    """Keep a list as it is narrowed now under a name; the same name again replaces what it stood for."""
    name = name.strip()
    if not name:
        raise Refused("A view needs a name: say in a word or two what it shows.")
    view = SavedView.objects.filter(person=by, page=page, name=name).first()
    if view is None and by.views.filter(page=page).count() >= MOST_VIEWS:
        raise Refused(f"You keep {MOST_VIEWS} views of this list, which is the most: forget one first.")
    view = view or SavedView(person=by, page=page, name=name)
    changed = put(view, {"query": query})
    if changed:
        audit(by, "save_view", view, page=page, name=name, query=query)
    return view


@verb
def forget_view(*, by: Person, view: SavedView) -> None:
    """Throw away a view of one's own."""
    if view.person_id != by.pk:
        raise Refused(f"The view {view.name} is not yours: only who saved a view can forget it.")
    audit(by, "forget_view", view, page=view.page, name=view.name)
    view.delete()


@verb
def choose_theme(*, by: Person, theme: str) -> ScreenChoice:
    """Say how bright one's own screen is to be."""
    if theme not in Theme.values:
        raise Refused(f"theme {theme!r} is not one of {', '.join(Theme.values)}.")
    choice = ScreenChoice.objects.filter(person=by).first() or ScreenChoice(person=by)
    changed = put(choice, {"theme": theme})
    if changed:
        audit(by, "choose_theme", choice, theme=theme)
    return choice


@verb
def choose_language(*, by: Person, language: str) -> ScreenChoice:
    """Say in which language one's own pages and paper are; "" means as the browser asks."""
    if language not in Language.values:
        raise Refused(f"language {language!r} is not one of {', '.join(filter(None, Language.values))}, or empty.")
    choice = ScreenChoice.objects.filter(person=by).first() or ScreenChoice(person=by)
    changed = put(choice, {"language": language})
    if changed:
        audit(by, "choose_language", choice, language=language)
    return choice
