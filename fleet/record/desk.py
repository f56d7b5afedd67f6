"""Verbs on what a person keeps at the desk: named views of a list, how bright their screen is, and its language."""

from django.utils.translation import gettext as _

from fleet.models import DigestWish, Language, Person, SavedView, ScreenChoice, Theme
from fleet.record.kernel import audit, put, verb
from fleet.refusal import Refused

MOST_VIEWS = 30


@verb
def save_view(*, by: Person, page: str, name: str, query: str) -> SavedView:
    """Keep a list as it is narrowed now under a name; the same name again replaces what it stood for."""
    name = name.strip()
    if not name:
        raise Refused(_("A view needs a name: say in a word or two what it shows."))
    view = SavedView.objects.filter(person=by, page=page, name=name).first()
    if view is None and by.views.filter(page=page).count() >= MOST_VIEWS:
        raise Refused(
            _("You keep %(MOST_VIEWS)s views of this list, which is the most: forget one first.")
            % {"MOST_VIEWS": MOST_VIEWS}
        )
    view = view or SavedView(person=by, page=page, name=name)
    changed = put(view, {"query": query})
    if changed:
        audit(by, "save_view", view, page=page, name=name, query=query)
    return view


@verb
def forget_view(*, by: Person, view: SavedView) -> None:
    """Throw away a view of one's own."""
    if view.person_id != by.pk:
        raise Refused(_("The view %(name)s is not yours: only who saved a view can forget it.") % {"name": view.name})
    audit(by, "forget_view", view, page=view.page, name=view.name)
    view.delete()


@verb
def choose_theme(*, by: Person, theme: str) -> ScreenChoice:
    """Say how bright one's own screen is to be."""
    if theme not in Theme.values:
        raise Refused(
            _("theme '%(theme)s' is not one of %(values)s.") % {"theme": theme, "values": ", ".join(Theme.values)}
        )
    choice = ScreenChoice.objects.filter(person=by).first() or ScreenChoice(person=by)
    changed = put(choice, {"theme": theme})
    if changed:
        audit(by, "choose_theme", choice, theme=theme)
    return choice


@verb
def choose_language(*, by: Person, language: str) -> ScreenChoice:
    """Say in which language one's own pages and paper are; "" means as the browser asks."""
    if language not in Language.values:
        raise Refused(
            _("language '%(language)s' is not one of %(languages)s, or empty.")
            % {"language": language, "languages": ", ".join(filter(None, Language.values))}
        )
    choice = ScreenChoice.objects.filter(person=by).first() or ScreenChoice(person=by)
    changed = put(choice, {"language": language})
    if changed:
        audit(by, "choose_language", choice, language=language)
        if language:
            # Who wants the mail in another one than the pages says so on its page, afterwards.
            DigestWish.objects.filter(person=by).update(language=language)
    return choice
