"""Pages of the studio's own room."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio.access import requires
from studio.editing import Stale, save_if_fresh
from studio.forms import FactsForm, LogoForm, PersonForm, SignInForm
from studio.forms_first import EarningForm, FirstForm
from studio.mail import decide_unknown
from studio.models import Membership, OutgoingMail, Studio
from studio.once import earlier_address, form_key_of, once
from studio.opening import add_member, open_studio
from studio.permissions import Permission
from studio.post_only import post_only
from studio.tries import signed_in_here

if TYPE_CHECKING:
    from studio.access import AccessRequest


class SignIn(LoginView):
    """A mail and its password; a browser that had them right is known again."""

    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        signed_in_here(self.request, response, form.mail)
        return response


@login_not_required
@require_http_methods(["GET", "POST"])
def first_start_page(request: HttpRequest) -> HttpResponse:
    if Studio.objects.exists():
        return redirect("jobs:today")
    if request.POST.get("do") in ("look", "price"):
        return first_prices(request)
    form, earning = FirstForm(request.POST or None), EarningForm(request.POST or None)
    if request.method == "POST" and all([form.is_valid(), earning.is_valid()]):
        login(request, open_studio(form, earning).person)
        messages.success(
            request,
            "Your studio is open. The prices below are examples: look through them, then confirm them.",
        )
        return redirect("pricing:stores")
    status = 422 if form.errors or earning.errors else 200
    return render(request, "studio/first.html", {"form": form, "earning": earning}, status=status)


def first_prices(request: HttpRequest) -> HttpResponse:
    """What three pieces come to with what was typed, or the hour that a typed price makes. Nothing is kept."""
    earning = EarningForm(request.POST)
    if request.POST["do"] == "price":
        earning = earning.with_hour_of_price()
    form = FirstForm(initial=request.POST.dict())  # as typed, and not judged before it is sent
    part = "studio/first.html#earning" if "HX-Request" in request.headers else "studio/first.html"
    status = 422 if earning.errors else 200
    return render(request, part, {"form": form, "earning": earning}, status=status)


@requires(Permission.SEE_STUDIO)
@require_http_methods(["GET", "POST"])
def facts_page(request: AccessRequest) -> HttpResponse:
    form = FactsForm(request.POST or None, instance=request.access.studio)
    if request.method == "GET":
        return show_facts(request, form=form)
    request.access.require(Permission.OWN_STUDIO)
    if not form.is_valid():
        return show_facts(request, status=422, form=form)
    try:
        save_if_fresh(form)
    except Stale as stale:
        return show_facts(request, status=409, form=form, stale=stale)
    messages.success(request, "Saved.")
    return redirect("studio:facts")


def show_facts(request: AccessRequest, *, status: int = 200, **parts: Any) -> HttpResponse:
    """The studio's page; `parts` are forms and notices that differ from fresh ones."""
    context = {
        "form": parts.get("form") or FactsForm(instance=request.access.studio),
        "memberships": members_of(request),
        "person_form": PersonForm(),
        "logo_form": LogoForm(),
        "logo": request.access.studio.logo,
        **parts,
    }
    return render(request, "studio/facts.html", context, status=status)


@requires(Permission.SEE_STUDIO)
@post_only("studio:facts")
def logo_page(request: AccessRequest) -> HttpResponse:
    """Bring a logo, or take it off. What was sent before keeps the one it had."""
    request.access.require(Permission.OWN_STUDIO)
    kept: bytes | None = None
    if request.POST.get("do") != "remove":
        form = LogoForm(request.POST, request.FILES)
        if not form.is_valid():
            return show_facts(request, status=422, logo_form=form)
        kept = form.cleaned_data["logo"]
    Studio.objects.filter(pk=request.access.studio.pk).update(logo=kept)
    messages.success(
        request, "The logo is on new papers from now on." if kept else "The logo is off."
    )
    return redirect("studio:facts")


@requires(Permission.SEE_STUDIO)
@post_only("studio:facts")
def people_page(request: AccessRequest) -> HttpResponse:
    """Add somebody. The office does not: whom it adds could be an owner."""
    request.access.require(Permission.OWN_STUDIO)
    if there := earlier_address(request.access, request):
        return redirect(there)
    form = PersonForm(request.POST)
    if not form.is_valid():
        return show_facts(request, status=422, person_form=form)

    def make() -> str:
        add_member(request.access, form)
        return reverse("studio:facts")

    return redirect(once(request.access, form_key_of(request), make))


def members_of(request: AccessRequest) -> list[Membership]:
    own = Membership.objects.filter(studio=request.access.studio)
    return list(own.select_related("person").order_by("person__name"))


@requires(Permission.SEE_STUDIO)
@require_http_methods(["GET", "POST"])
def mails_page(request: AccessRequest) -> HttpResponse:
    """What went out, what waits, and what a person must decide."""
    rows = request.access.rows(OutgoingMail).defer("attachment", "body")
    if request.method == "POST":
        outgoing = request.access.row(OutgoingMail, pk=request.POST.get("letter", "0"))
        if decide_unknown(request.access, outgoing, arrived=request.POST.get("do") == "arrived"):
            messages.success(request, "Noted.")
        return redirect("studio:letters")
    open_ = (OutgoingMail.State.UNKNOWN, OutgoingMail.State.REFUSED)
    context = {
        "open": rows.filter(state__in=open_).order_by("pk"),
        "letters": rows.exclude(state__in=open_).order_by("-pk")[:100],
    }
    return render(request, "studio/letters.html", context)
