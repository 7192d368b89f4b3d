"""The pages' addresses. `admin_password_reset` is what Django's own login page links to."""

from django.urls import path

from records.pages import joining, passwords, signing_in

urlpatterns = [
    path("", signing_in.welcome, name="welcome"),
    path("login", signing_in.LoginView.as_view(), name="login"),
    path("logout", signing_in.LogoutView.as_view(), name="logout"),
    path("join/<str:key>", joining.JoinView.as_view(), name="join"),
    path("password", passwords.ForgottenView.as_view(), name="admin_password_reset"),
    path("password/sent", passwords.SentView.as_view(), name="password_reset_done"),
    path("password/<uidb64>/<token>", passwords.ResetView.as_view(), name="password_reset_confirm"),
    path("password/done", passwords.DoneView.as_view(), name="password_reset_complete"),
]
