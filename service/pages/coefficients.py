"""Setting one coefficient of a cord spec, or of the house, and taking it back, with a reason."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet.models import CordSpec
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.lives_to_learn import waiting
from service.pages.access import Here, page
from service.pages.coefficient_form import CoefficientForm
from service.pages.cord_specs import spec_of
from service.spec_coefficients import (
    Given,
    InForce,
    history,
    in_force,
    in_force_for_house,
    set_value,
    take_back,
)


@page(Role.MANAGER)
def coefficient(request: HttpRequest, here: Here, code: str, name: str) -> HttpResponseBase:
    """One coefficient of a cord spec."""
    spec = spec_of(code)
    one = next((one for one in in_force(spec, here.site) if one.key == name and one.can_be_set), None)
    if one is None:
        raise Http404(_("There is no coefficient %(name)s to set for %(code)s.") % {"name": name, "code": spec.code})
    return _page(request, here, spec, one)


@page(Role.MANAGER, everywhere=True)
def house_coefficients(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every coefficient as the house has it: what is the same for all cords, and what holds where a spec has none."""
    found = in_force_for_house()
    groups = [
        (_("The same for every cord"), [one for one in found if one.is_of_house]),
        (_("For every cord spec without a value of its own"), [one for one in found if one.can_be_set]),
    ]
    content = {"groups": groups, "history": history(None), "to_learn": waiting()}
    return render(request, "desk/house_coefficients.html", content)


@page(Role.MANAGER, everywhere=True)
def house_coefficient(request: HttpRequest, here: Here, name: str) -> HttpResponseBase:
    """One coefficient of the house."""
    one = next((one for one in in_force_for_house() if one.key == name), None)
    if one is None:
        raise Http404(_("There is no coefficient %(name)s to set for the house.") % {"name": name})
    return _page(request, here, None, one)


def _page(request: HttpRequest, here: Here, spec: CordSpec | None, one: InForce) -> HttpResponseBase:
    form = CoefficientForm(one, request.POST or None)
    if request.method == "POST" and form.is_valid() and _changed(request, here, spec, form):
        return redirect("cord-spec", code=spec.code) if spec else redirect("house-coefficients")
    own = one.setting is not None and one.setting.cord_spec_id == (spec.pk if spec else None)
    content = {"spec": spec, "one": one, "form": form, "own": own, "history": history(spec, one.key)}
    return render(request, "desk/coefficient.html", content, status=422 if form.errors else 200)


def _changed(request: HttpRequest, here: Here, spec: CordSpec | None, form: CoefficientForm) -> bool:
    """Write it down; what the book refuses stands at the head of the form."""
    given, now = form.cleaned_data, datetime.now(UTC)
    try:
        if form.takes_back:
            take_back(spec, form.one.key, why=given["why"], by=here.person, now=now)
        else:
            value = Given(given["value"], given["label"], given["source"], given["why"])
            set_value(spec, form.one.key, value, by=here.person, now=now)
    except (Refused, ValueError) as problem:
        form.add_error(None, str(problem))
        return False
    told = {"name": form.one.named.name, "of": spec.code if spec else _("the house")}
    changed = _("%(name)s of %(of)s is changed. The wear of every bow that it bears on is computed anew.") % told
    messages.success(request, changed, extra_tags="good")
    return True
