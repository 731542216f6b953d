"""Addresses of the day's work. Jobs are named by their number in the studio, clients' pages by a token."""

from django.urls import path, register_converter

from jobs.pages import today
from jobs.pages.after import after, practice
from jobs.pages.brief import brief, job_list
from jobs.pages.day import build, buying, diary, holding, move_event, packing
from jobs.pages.design import alternatives, design, options, pictures, shades
from jobs.pages.money import cancel, money, reminders, reports
from jobs.pages.price import price
from jobs.pages.proposal import client, proposal, questions


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
    path("", today.today_page, name="today"),
    path("diary/", diary.diary_page, name="diary"),
    path("money/", money.money_page, name="money"),
    path("reports/", reports.reports_page, name="reports"),
    path("reports/journal.<slug:kind>", reports.journal_file, name="journal"),
    path("reports/<slug:which>.csv", reports.report_csv, name="report-sheet"),
    path("practice/", practice.practice_page, name="practice"),
    path("jobs/", job_list.job_list, name="jobs"),
    path("jobs/new/", job_list.new_job, name="new"),
    path("jobs/<int:number>/", brief.brief_page, name="brief"),
    path("jobs/<int:number>/design/", design.design_page, name="design"),
    path("jobs/<int:number>/design/<upper:letter>/", design.design_page, name="alternative"),
    path("jobs/<int:number>/alternatives/", alternatives.compare_alternatives, name="alternatives"),
    path(
        "jobs/<int:number>/alternatives/<upper:letter>/",
        alternatives.change_alternative,
        name="change-alternative",
    ),
    path("jobs/<int:number>/options/<upper:letter>/", options.options_page, name="options"),
    path(
        "jobs/<int:number>/picture/<upper:letter>.<slug:kind>",
        pictures.picture_download,
        name="picture",
    ),
    path("jobs/<int:number>/photo/", pictures.photo_page, name="photo"),
    path("jobs/<int:number>/photo.jpeg", pictures.photo_jpeg, name="photo-jpeg"),
    path("shades/", shades.shades_page, name="shades"),
    path("jobs/<int:number>/fit/", alternatives.fit_page, name="fit"),
    path(
        "jobs/<int:number>/kept/<int:pk>/forget/",
        alternatives.forget_saved_piece,
        name="forget-kept",
    ),
    path("jobs/<int:number>/design.json", design.design_document, name="design-document"),
    path("jobs/<int:number>/price/", price.price_page, name="price"),
    path("jobs/<int:number>/price/budget/", price.budget_page, name="budget"),
    path("jobs/<int:number>/proposal/", proposal.proposal_page, name="proposal"),
    path("jobs/<int:number>/proposal/<int:version>.pdf", proposal.offer_pdf, name="offer-pdf"),
    path(
        "jobs/<int:number>/proposal/<int:version>/withdraw/",
        proposal.withdraw_link,
        name="withdraw-link",
    ),
    path("jobs/<int:number>/payments/", money.payment, name="payment"),
    path("jobs/<int:number>/payments/charge/<int:pk>/", money.charge_for_kit, name="charge"),
    path("jobs/<int:number>/payments/<int:pk>.pdf", money.receipt, name="receipt"),
    path("jobs/<int:number>/statement.pdf", money.statement, name="statement"),
    path("jobs/<int:number>/call-off/", cancel.cancel_page, name="call-off"),
    path("jobs/<int:number>/postpone/", move_event.move_event_page, name="postpone"),
    path("jobs/<int:number>/invoices/", money.invoice, name="invoice"),
    path("invoices/<int:invoice>.<slug:kind>", money.invoice_file, name="invoice-file"),
    path("jobs/<int:number>/build/", build.build_page, name="build"),
    path("jobs/<int:number>/build/<slug:which>.pdf", build.list_pdf, name="list-pdf"),
    path("jobs/<int:number>/after/", after.after_page, name="after"),
    path("jobs/<int:number>/after/<int:pk>/take-back/", after.time_back, name="time-back"),
    path("jobs/<int:number>/hold/", holding.holding_page, name="hold"),
    path("jobs/<int:number>/packing/", packing.packing_page, name="packing"),
    path("jobs/<int:number>/travel/", packing.travel_page, name="travel"),
    path("jobs/<int:number>/labels.pdf", packing.labels, name="labels"),
    path("buying/", buying.buying, name="buying"),
    path("buying/stand-in/", buying.accept_stand_in, name="stand-in"),
    path("jobs/<int:number>/stage/", build.change_stage, name="stage"),
    path("o/<str:token>/", client.offer_page, name="offer-page"),
    path("o/<str:token>/proposal.pdf", client.offer_page_pdf, name="offer-page-pdf"),
    path("o/<str:token>/certificate.pdf", client.client_certificate, name="offer-page-certificate"),
    path("o/<str:token>/ask/", questions.client_asks, name="offer-page-ask"),
    path("stop/<str:token>/", reminders.stop_page, name="stop"),
    path("jobs/<int:number>/reminders/", reminders.allow_reminders_again, name="allow-reminders"),
    path(
        "jobs/<int:number>/proposal/<int:version>/certificate.pdf",
        proposal.certificate,
        name="certificate",
    ),
    path(
        "jobs/<int:number>/proposal/<int:version>/answer/", questions.studio_answers, name="answer"
    ),
]
