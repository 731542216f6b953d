"""Addresses of the day's work. Jobs are named by their number in the studio, clients' pages by a token."""

from django.urls import path, register_converter

from jobs.views import (
    after,
    alternatives,
    asking,
    brief,
    build,
    buying,
    client,
    design,
    diary,
    ending,
    hands,
    holding,
    jobs,
    money,
    options,
    packing,
    pictures,
    price,
    proposal,
    reminders,
    reports,
    shades,
    today,
)


class UpperLetter:
    """The letter of an alternative."""

    regex = "[A-Z]"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(UpperLetter, "upper")
app_name = "jobs"
urlpatterns = [
    path("", today.today, name="today"),
    path("diary/", diary.diary, name="diary"),
    path("money/", money.money, name="money"),
    path("reports/", reports.reports, name="reports"),
    path("reports/journal.<slug:kind>", reports.journal, name="journal"),
    path("reports/<slug:which>.csv", reports.sheet, name="report-sheet"),
    path("practice/", hands.hands, name="hands"),
    path("jobs/", jobs.job_list, name="jobs"),
    path("jobs/new/", jobs.new_job, name="new"),
    path("jobs/<int:number>/", brief.brief, name="brief"),
    path("jobs/<int:number>/design/", design.design, name="design"),
    path("jobs/<int:number>/design/<upper:letter>/", design.design, name="alternative"),
    path("jobs/<int:number>/alternatives/", alternatives.compare, name="alternatives"),
    path(
        "jobs/<int:number>/alternatives/<upper:letter>/",
        alternatives.change,
        name="change-alternative",
    ),
    path("jobs/<int:number>/options/<upper:letter>/", options.options, name="options"),
    path("jobs/<int:number>/picture/<upper:letter>.<slug:kind>", pictures.picture, name="picture"),
    path("jobs/<int:number>/photo/", pictures.photo, name="photo"),
    path("jobs/<int:number>/photo.jpeg", pictures.photo_jpeg, name="photo-jpeg"),
    path("shades/", shades.shades, name="shades"),
    path("jobs/<int:number>/fit/", alternatives.fit_to_room, name="fit"),
    path("jobs/<int:number>/kept/<int:pk>/forget/", alternatives.forget, name="forget-kept"),
    path("jobs/<int:number>/design.json", design.document, name="design-document"),
    path("jobs/<int:number>/price/", price.price, name="price"),
    path("jobs/<int:number>/price/budget/", price.budget, name="budget"),
    path("jobs/<int:number>/proposal/", proposal.proposal, name="proposal"),
    path("jobs/<int:number>/proposal/<int:version>.pdf", proposal.offer_pdf, name="offer-pdf"),
    path(
        "jobs/<int:number>/proposal/<int:version>/withdraw/",
        proposal.withdraw_link,
        name="withdraw-link",
    ),
    path("jobs/<int:number>/payments/", money.payment, name="payment"),
    path("jobs/<int:number>/payments/charge/<int:pk>/", money.charge, name="charge"),
    path("jobs/<int:number>/payments/<int:pk>.pdf", money.receipt, name="receipt"),
    path("jobs/<int:number>/statement.pdf", money.statement, name="statement"),
    path("jobs/<int:number>/call-off/", ending.call_off, name="call-off"),
    path("jobs/<int:number>/postpone/", ending.postpone, name="postpone"),
    path("jobs/<int:number>/invoices/", money.invoice, name="invoice"),
    path("invoices/<int:invoice>.<slug:kind>", money.invoice_file, name="invoice-file"),
    path("jobs/<int:number>/build/", build.build, name="build"),
    path("jobs/<int:number>/build/<slug:which>.pdf", build.list_pdf, name="list-pdf"),
    path("jobs/<int:number>/after/", after.after, name="after"),
    path("jobs/<int:number>/after/<int:pk>/take-back/", after.time_back, name="time-back"),
    path("jobs/<int:number>/hold/", holding.holding, name="hold"),
    path("jobs/<int:number>/packing/", packing.packing, name="packing"),
    path("jobs/<int:number>/travel/", packing.travel, name="travel"),
    path("jobs/<int:number>/labels.pdf", packing.labels, name="labels"),
    path("buying/", buying.buying, name="buying"),
    path("buying/stand-in/", buying.accept_stand_in, name="stand-in"),
    path("jobs/<int:number>/stage/", build.stage, name="stage"),
    path("o/<str:token>/", client.offer_page, name="offer-page"),
    path("o/<str:token>/proposal.pdf", client.offer_page_pdf, name="offer-page-pdf"),
    path("o/<str:token>/certificate.pdf", client.certificate, name="offer-page-certificate"),
    path("o/<str:token>/ask/", asking.ask, name="offer-page-ask"),
    path("stop/<str:token>/", reminders.stop, name="stop"),
    path("jobs/<int:number>/reminders/", reminders.allow, name="allow-reminders"),
    path(
        "jobs/<int:number>/proposal/<int:version>/certificate.pdf",
        proposal.certificate,
        name="certificate",
    ),
    path("jobs/<int:number>/proposal/<int:version>/answer/", asking.answer, name="answer"),
]
