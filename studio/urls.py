"""Addresses of the whole site."""

from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path, reverse_lazy
from django.views.decorators.http import require_http_methods

from studio import views
from studio.post_only import post_only

page = require_http_methods(["GET", "HEAD", "POST"])  # Django's own forms take a PUT for a POST

studio = [
    path("first/", views.first_start_page, name="first"),
    path("sign-in/", page(views.SignIn.as_view()), name="sign-in"),
    path(
        "sign-out/",
        login_not_required(post_only("jobs:today")(auth.LogoutView.as_view())),
        name="sign-out",
    ),
    path("studio/", views.facts_page, name="facts"),
    path("studio/logo/", views.logo_page, name="logo"),
    path("studio/letters/", views.mails_page, name="letters"),
    path("studio/people/", views.people_page, name="people"),
    path(
        "studio/password/",
        page(
            auth.PasswordChangeView.as_view(
                template_name="studio/password.html", success_url=reverse_lazy("jobs:today")
            )
        ),
        name="password",
    ),
]
urlpatterns = [
    path("", include((studio, "studio"))),
    path("", include("jobs.urls")),
    path("stores/", include("pricing.urls")),
]
handler500 = "studio.server_errors.server_error"
handler404 = "studio.client_errors.not_found"
handler400 = "studio.client_errors.not_read"
