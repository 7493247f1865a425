"""Index of the addresses of instruments, grouped by topic, nothing else."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from instruments.certificates.views import drafts, numbers, verifying, walking
from instruments.certificates.views import listing as certificate_list
from instruments.certificates.views import reading as certificate_page
from instruments.desk.views import first, review, search
from instruments.desk.views import gauge as gauge_page
from instruments.desk.views import gauges as gauge_list
from instruments.inventory.views import gauges, limits, models, sets, sheets
from instruments.inventory.views import photos as custody_photos
from instruments.measuring.views import (
    bench,
    cables,
    depositing,
    dry_run,
    photos,
    plan,
    records,
    reopening,
    sending,
    sittings,
    soaking,
    stages,
)
from instruments.measuring.views import listing as session_list
from instruments.measuring.views import session as bench_session
from instruments.procedures.views import approving, drafting, items, reading
from instruments.recall.views import (
    call_ins,
    decisions,
    floor,
    handling,
    labels,
    masters,
    outside,
    planning,
)

_desk: list[URLPattern | URLResolver] = [
    path("", first.first, name="first"),
    path("own/", first.own, name="own-gauges"),
    path("review/", review.waiting, name="review"),
    path("review/<int:pk>/", review.submission, name="review-submission"),
    path("search/", search.search, name="search"),
]

_gauges: list[URLPattern | URLResolver] = [
    path("gauges/", gauge_list.gauges, name="gauges"),
    path("gauges/register/", gauges.register, name="gauge-register"),
    path("gauges/models/", models.models, name="gauge-models"),
    path("gauges/models/register/", models.register, name="gauge-model-register"),
    path("gauges/models/<int:pk>/", models.model, name="gauge-model"),
    path("gauges/models/<int:pk>/correct/", models.change, name="gauge-model-change"),
    path("gauges/models/<int:pk>/limits/", limits.of_model, name="gauge-model-limits"),
    path("gauges/lists/", sheets.upload, name="gauge-sheets"),
    path("gauges/lists/empty.<str:kind>", sheets.empty_sheet, name="gauge-sheet-empty"),
    path("gauges/lists/<int:pk>/", sheets.sheet, name="gauge-sheet"),
    path("gauges/lists/<int:pk>/lay-aside/", sheets.discard, name="gauge-sheet-discard"),
    path("gauges/<int:pk>/", gauge_page.gauge, name="gauge"),
    path("gauges/<int:pk>/change/", gauges.change, name="gauge-change"),
    path("gauges/<int:pk>/state/", gauge_page.state, name="gauge-state"),
    path("gauges/<int:pk>/step/", gauges.custody, name="gauge-custody"),
    path("gauges/<int:pk>/photo.jpg", gauges.photo, name="gauge-photo"),
    path("gauges/<int:pk>/photo/", gauges.photo_change, name="gauge-photo-change"),
    path("gauges/<int:pk>/photo/remove/", gauges.photo_remove, name="gauge-photo-remove"),
    path("gauges/custody-photos/<int:pk>/", custody_photos.custody_photo, name="gauge-custody-photo"),
    path(
        "gauges/custody-photos/<int:pk>/preview.jpg",
        custody_photos.custody_photo_preview,
        name="gauge-custody-photo-preview",
    ),
    path("gauges/<int:pk>/limits/", limits.of_gauge, name="gauge-limits"),
    path("gauges/<int:pk>/limits/give-up/", limits.withdraw, name="gauge-limits-withdraw"),
    path("gauges/<int:pk>/members/add/", sets.member_add, name="gauge-member-add"),
    path("gauges/members/<int:pk>/withdraw/", sets.member_withdraw, name="gauge-member-withdraw"),
    path("gauges/<int:pk>/master/", masters.pair_with, name="gauge-pair"),
    path("gauges/masters/<int:pk>/part/", masters.part, name="gauge-part"),
]

_measuring: list[URLPattern | URLResolver] = [
    path("bench/", bench.bench, name="bench"),
    path("bench/worker.js", reopening.worker, name="bench-worker"),
    path("bench/shell/", reopening.shell, name="bench-shell"),
    path("bench/find/", bench.find, name="bench-find"),
    path("bench/gauges/<int:pk>/", bench.gauge, name="bench-gauge"),
    path("bench/sittings/new/", sittings.sit_down_page, name="bench-sit-down"),
    path("bench/sittings/<int:pk>/", sittings.sitting, name="bench-sitting"),
    path("bench/sittings/<int:pk>/room/", sittings.room, name="bench-sitting-room"),
    path("bench/session/<int:pk>/", bench_session.session, name="bench-session"),
    path("bench/session/<int:pk>/send/", sending.send, name="bench-send"),
    path("bench/session/<int:pk>/plan/", plan.plan, name="bench-plan"),
    path("bench/session/<int:pk>/plan/add/", plan.add, name="bench-point-add"),
    path("bench/session/<int:pk>/plan/missing/", plan.missing, name="bench-plan-missing"),
    path("bench/points/<int:pk>/references/", plan.references, name="bench-references"),
    path("bench/points/<int:pk>/leave-out/", plan.skip, name="bench-skip"),
    path("bench/session/<int:pk>/hand-in/", stages.hand_in, name="bench-hand-in"),
    path("bench/deposit/", depositing.deposit, name="bench-deposit"),
    path("bench/grant/", depositing.grant, name="bench-grant"),
    path("bench/session/<int:pk>/ahead/", bench_session.going_on, name="bench-ahead"),
    path("bench/session/<int:pk>/photos/", photos.photos, name="bench-photos"),
    path("bench/session/<int:pk>/laid/", soaking.laid, name="bench-laid"),
    path("bench/session/<int:pk>/early/", soaking.early, name="bench-early"),
    path("bench/cable/", cables.cable, name="bench-cable"),
    path("bench/session/<int:pk>/adjust/", stages.adjust, name="bench-adjust"),
    path("bench/session/<int:pk>/void/", stages.void, name="bench-void"),
    path("bench/set-aside/<int:pk>/", sending.resolve, name="bench-resolve"),
    path("sessions/", session_list.listing, name="sessions"),
    path("sessions/<int:pk>/", records.record, name="session"),
    path("sessions/photos/<int:pk>/", photos.photo, name="session-photo"),
    path("sessions/photos/<int:pk>/preview.jpg", photos.photo_preview, name="session-photo-preview"),
    path("sessions/<int:pk>/deviation/", records.deviate, name="session-deviation"),
    path("sessions/submissions/<int:pk>/give-back/", records.give_back, name="submission-give-back"),
    path("sessions/readings/<int:pk>/strike/", records.strike, name="reading-strike"),
]

_procedures: list[URLPattern | URLResolver] = [
    path("lab/procedures/", reading.listing, name="procedures"),
    path("lab/procedures/start/", drafting.start, name="procedure-start"),
    path("lab/procedures/<int:pk>/", reading.procedure, name="procedure"),
    path("lab/procedures/<int:pk>/draft/", drafting.draft, name="revision-draft"),
    path("lab/procedures/revisions/<int:pk>/", reading.revision, name="revision"),
    path("lab/procedures/revisions/<int:pk>/difference/", reading.difference, name="revision-difference"),
    path("lab/procedures/revisions/<int:pk>/file/", reading.file, name="revision-file"),
    path("lab/procedures/revisions/<int:pk>/replace/", drafting.replace, name="revision-replace"),
    path("lab/procedures/revisions/<int:pk>/note/", drafting.change_note, name="revision-change-note"),
    path("lab/procedures/revisions/<int:pk>/approve/", approving.approve, name="revision-approve"),
    path("lab/procedures/revisions/<int:pk>/retire/", approving.retire, name="revision-retire"),
    path("lab/procedures/revisions/<int:pk>/past-sessions/", dry_run.dry_run, name="revision-dry-run"),
    path("lab/procedures/past-sessions/<int:pk>/", dry_run.validation, name="revision-validation"),
    path(
        "lab/procedures/revisions/<int:pk>/change/<slug:section>/", drafting.section, name="revision-section"
    ),
    path("lab/procedures/revisions/<int:pk>/change/<slug:items>/new/", items.new, name="revision-item-new"),
    path(
        "lab/procedures/revisions/<int:pk>/change/<slug:items>/<int:index>/", items.item, name="revision-item"
    ),
]

_recall: list[URLPattern | URLResolver] = [
    path("f/<str:code>/", floor.floor, name="floor"),
    path("f/<str:code>/record/", floor.acts, name="floor-acts"),
    path("planning/", planning.planning, name="planning"),
    path("planning/late/", planning.late, name="planning-late"),
    path("planning/weeks/<slug:name>/", planning.week, name="planning-week"),
    path("planning/call-in/", call_ins.call_in, name="call-in"),
    path("planning/called-in/", call_ins.call_ins, name="call-ins"),
    path("planning/called-in/<int:pk>/withdraw/", call_ins.withdraw, name="call-in-withdraw"),
    path("gauges/labels/", labels.sheet, name="labels"),
    path("gauges/<int:pk>/receive/", handling.receive, name="gauge-receive"),
    path("gauges/<int:pk>/give-back/", handling.release, name="gauge-release"),
    path("gauges/<int:pk>/hold/", decisions.hold, name="gauge-hold"),
    path("gauges/holds/<int:pk>/lift/", decisions.lift, name="hold-lift"),
    path("gauges/<int:pk>/restrict/", decisions.restrict, name="gauge-restrict"),
    path("gauges/<int:pk>/restriction/lift/", decisions.lift_restriction, name="restriction-lift"),
    path("gauges/<int:pk>/interval/", decisions.interval, name="gauge-interval"),
    path("gauges/<int:pk>/put-off/", decisions.extend, name="gauge-extend"),
    path("gauges/<int:pk>/outside-certificate/", outside.receive, name="outside-receive"),
    path("gauges/outside-certificates/<int:pk>/", outside.certificate, name="outside-certificate"),
    path("gauges/outside-certificates/<int:pk>/file/", outside.file, name="outside-certificate-file"),
]

_certificates: list[URLPattern | URLResolver] = [
    path("certificates/", certificate_list.certificates_page, name="certificates"),
    path("certificates/numbers/", numbers.numbers, name="certificate-numbers"),
    path("certificates/numbers/<int:pk>/", numbers.confirm, name="certificate-number-confirm"),
    path("certificates/<int:pk>/", certificate_page.certificate, name="certificate"),
    path("certificates/<int:pk>/file.pdf", certificate_page.pdf, name="certificate-pdf"),
    path("certificates/<int:pk>/chain/", walking.chain, name="certificate-chain"),
    path("certificates/<int:pk>/evidence.zip", walking.evidence, name="certificate-evidence"),
    path("certificates/<int:pk>/data.json", certificate_page.data, name="certificate-data"),
    path("reviews/submissions/<int:pk>/draft.pdf", drafts.draft, name="certificate-draft"),
    path("verify/<str:code>/", verifying.verify, name="certificate-verify"),
]

urlpatterns: list[URLPattern | URLResolver] = [
    *_desk,
    *_recall,
    *_gauges,
    *_measuring,
    *_procedures,
    *_certificates,
]
