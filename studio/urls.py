"""Addresses of the whole site."""

from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path, reverse_lazy

from studio import views
from studio.forms import SignInForm

studio = [
    path("first/", views.first, name="first"),
    path(
        "sign-in/",
        auth.LoginView.as_view(
            template_name="studio/sign_in.html",
            authentication_form=SignInForm,
            redirect_authenticated_user=True,
        ),
        name="sign-in",
    ),
    path("sign-out/", login_not_required(auth.LogoutView.as_view()), name="sign-out"),
    path("studio/", views.facts, name="facts"),
    path("studio/logo/", views.logo, name="logo"),
    path("studio/letters/", views.letters, name="letters"),
    path("studio/people/", views.people, name="people"),
    path(
        "studio/password/",
        auth.PasswordChangeView.as_view(
            template_name="studio/password.html", success_url=reverse_lazy("jobs:today")
        ),
        name="password",
    ),
]
urlpatterns = [
    path("", include((studio, "studio"))),
    path("", include("jobs.urls")),
    path("stores/", include("pricing.urls")),
]
handler500 = "studio.broken.server_error"
