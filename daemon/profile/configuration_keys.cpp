#include "profile/configuration_keys.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace profile {
namespace {

using C = Configuration;

Key text(std::string_view name, Means means, std::string_view fallback, std::string& (*where)(C&), std::string_view reason) {
  return {name, means, fallback, where, nullptr, nullptr, 0, 0, {}, reason};
}
Key choice(std::string_view name, std::vector<std::string_view> choices, std::string_view fallback, std::string& (*where)(C&), std::string_view reason) {
  return {name, Means::choice, fallback, where, nullptr, nullptr, 0, 0, std::move(choices), reason};
}
Key list(std::string_view name, std::string_view fallback, std::vector<std::string>& (*where)(C&), std::string_view reason) {
  return {name, Means::list, fallback, nullptr, nullptr, nullptr, 0, 0, {}, reason, where};
}
Key path(std::string_view name, Means means, std::string_view fallback, std::filesystem::path& (*where)(C&), std::string_view reason) {
  return {name, means, fallback, nullptr, where, nullptr, 0, 0, {}, reason};
}
Key number(std::string_view name, std::string_view fallback, std::int64_t low, std::int64_t high, std::int64_t& (*where)(C&), std::string_view reason) {
  return {name, Means::number, fallback, nullptr, nullptr, where, low, high, {}, reason};
}

// integration.md's least set: read facts, write plans; corrections are "entered-in-error", so no d anywhere.
constexpr std::string_view kScopes =
    "system/Patient.rs system/Encounter.rs system/Procedure.rs system/MedicationAdministration.rs system/Medication.rs system/MedicationStatement.rs system/MedicationRequest.rs system/MedicationDispense.rs "
    "system/Observation.rs system/Condition.rs system/AllergyIntolerance.rs system/List.rs system/Device.rs system/Specimen.rs system/Location.rs "
    "system/ServiceRequest.rs system/DeviceUseStatement.rs system/Consent.rs system/CareTeam.rs system/QuestionnaireResponse.rs system/DiagnosticReport.rs "
    "system/Practitioner.rs system/PractitionerRole.rs system/Organization.rs "
    "system/Task.crus system/CarePlan.crus system/DocumentReference.crus system/Binary.crus system/Provenance.crs system/GuidanceResponse.crus system/DetectedIssue.crus";

std::vector<Key> make_keys() {
  return {
      text("listen.public", Means::address, "127.0.0.1:8181", [](C& c) -> auto& { return c.listen.public_address; },
           "FHIR intake; plain HTTP on loopback only: for another machine name a certificate, or put a TLS proxy before it. Port 0 takes any free one"),
      text("listen.admin", Means::address, "127.0.0.1:8182", [](C& c) -> auto& { return c.listen.admin_address; }, "health, status and metrics"),
      path("listen.tls_certificate", Means::input_file, "", [](C& c) -> auto& { return c.listen.tls_certificate; },
           "PEM: the intake speaks TLS with this certificate (its own first, then those between it and the root); read anew when it changes"),
      path("listen.tls_key", Means::secret_file, "", [](C& c) -> auto& { return c.listen.tls_key; }, "PEM: its key, without a password"),
      path("listen.tls_client_ca", Means::input_file, "", [](C& c) -> auto& { return c.listen.tls_client_ca; },
           "PEM: senders must show a certificate of these authorities; empty: none is asked for"),
      text("listen.tls_client_subjects", Means::text, "", [](C& c) -> auto& { return c.listen.tls_client_subjects; },
           "subjects let in, as RFC 2253 writes them (O=Hospital,CN=record), with ; between; empty: every one of these authorities"),
      text("store.url", Means::store_url, "sqlite:var/aftersheath.db", [](C& c) -> auto& { return c.store.url; },
           "where events, plans and unsent writes are kept, durably"),
      path("chart.folder", Means::output_path, "var/chart", [](C& c) -> auto& { return c.chart.folder; },
           "transactions and sheets as files, used when no record is configured"),
      text("record.base_url", Means::base_url, "!", [](C& c) -> auto& { return c.record->base_url; }, "FHIR base of the record system; http on loopback only, else https"),
      choice("record.purpose", {"test", "production"}, "!", [](C& c) -> auto& { return c.record->purpose; },
             "test: only patients labelled as test data; production: only under an approved protocol"),
      choice("record.mode", {"live", "shadow"}, "shadow", [](C& c) -> auto& { return c.record->mode; },
             "shadow computes and keeps, and sends nothing: writing has to be asked for"),
      choice("record.writing", {"auto", "transactions", "single-writes", "documents"}, "auto", [](C& c) -> auto& { return c.record->writing; },
             "the rung that this record is written on; auto: transactions where they are honoured, else single writes; documents: where it takes neither Task nor CarePlan, "
             "the sheet and a Communication only, and Tasks and CarePlans are served here. aftersheath probe says which"),
      choice("record.serve", {"as-needed", "care-plans", "tasks"}, "as-needed", [](C& c) -> auto& { return c.record->serve; },
             "for a record that takes the one and not the other: care-plans serves CarePlans (with their answers and provenance) here and writes Tasks to the record, tasks the "
             "other way; what goes to the record goes in single writes. as-needed: with record.writing = documents both are served here, else nothing"),
      choice("record.fhir", {"R4", "R5"}, "R4", [](C& c) -> auto& { return c.record->fhir; }, "the FHIR version of what is written: R4 (4.0.1, for R4B too) or R5 (5.0.0)"),
      text("record.test_patient", Means::text, "", [](C& c) -> auto& { return c.record->test_patient; },
           "Patient/id, or system|value of an identifier, of a patient that carries the label HTEST: for whom aftersheath probe tries the record"),
      text("record.takes_over", Means::text, "", [](C& c) -> auto& { return c.record->takes_over; },
           "id of an installation whose store is lost: a new store takes its place and its plans; empty: none"),
      choice("documents.attachment", {"binary", "inline", "xhtml"}, "binary", [](C& c) -> auto& { return c.documents.attachment; },
             "the sheet as a Binary, inside the DocumentReference, or, for a record that takes no PDF, the same plan as an XHTML page"),
      text("documents.type", Means::text, "", [](C& c) -> auto& { return c.documents.type; }, "DocumentReference.type as the record wants it, system|code|display; empty: LOINC 64295-9"),
      text("documents.category", Means::text, "", [](C& c) -> auto& { return c.documents.category; }, "DocumentReference.category, system|code|display; empty: clinical-note"),
      text("documents.author", Means::text, "", [](C& c) -> auto& { return c.documents.author; },
           "Practitioner/id, PractitionerRole/id or Organization/id of the record that documents are written in the name of; empty: this installation as a device"),
      text("documents.author_name", Means::text, "", [](C& c) -> auto& { return c.documents.author_name; }, "that author's name for people"),
      choice("documents.encounter", {"if-known", "needed"}, "if-known", [](C& c) -> auto& { return c.documents.encounter; },
             "needed: the record takes no document without one, so none is sent before it is known"),
      choice("documents.found_by", {"identifier", "patient"}, "identifier", [](C& c) -> auto& { return c.documents.found_by; },
             "after a lost answer a document is looked for by its identifier; or, where that cannot be searched, among the patient's of that category"),
      choice("documents.conditions", {"yes", "no"}, "yes", [](C& c) -> auto& { return c.documents.conditions; }, "no: the record refuses If-None-Exist and If-Match, so a document is read before it is changed"),
      choice("documents.updates", {"yes", "no"}, "yes", [](C& c) -> auto& { return c.documents.updates; },
             "no: the record takes no change of a document: an older sheet stays current there, and only the newer one says that it replaces it"),
      choice("documents.communication", {"yes", "no"}, "yes", [](C& c) -> auto& { return c.documents.communication; },
             "with record.writing = documents: a Communication to the unit with each new sheet and each call for a clinician"),
      text("record.source", Means::text, "", [](C& c) -> auto& { return c.record->source; },
           "{source} of /fhir/hook/{source}/{name} under which the record itself sends; nothing is written for cases of any other source"),
      number("record.look_seconds", "60", 0, 86400, [](C& c) -> auto& { return c.record->look_seconds; },
             "pause between two rounds of asking the record for what has changed; 0: only when a sender says \"look again\""),
      text("roster.lists", Means::text, "", [](C& c) -> auto& { return c.roster.lists; },
           "for a record that refuses searches by _lastUpdated: Group/id and List/id with ; between, of the record or sent here by PUT, or Group?identifier=system|value, of the record or sent here by POST (the last one counts): whose Procedures are looked at"),
      text("roster.locations", Means::text, "", [](C& c) -> auto& { return c.roster.locations; }, "Location/id with ; between: the patients of the Encounters there"),
      text("roster.appointments", Means::text, "", [](C& c) -> auto& { return c.roster.appointments; },
           "Location/id of catheter laboratories with ; between: the patients of their Appointments, yesterday to tomorrow"),
      path("roster.file", Means::output_path, "", [](C& c) -> auto& { return c.roster.file; },
           "a file that an interface of the site writes, read anew each round: a patient a line, Patient/id or system|value of an identifier, # for remarks"),
      number("record.horizon_seconds", "300", 10, 86'400, [](C& c) -> auto& { return c.record->horizon_seconds; },
             "how late a change may become visible after the time it bears (transactions, nodes whose clocks part): so far back each round looks again"),
      list("record.categories", "", [](C& c) -> auto& { return c.record->categories; },
           "categories of the site's own, with ; between, that a record which wants a category on each search is asked for beside the standard ones: Observation/code or "
           "Observation/system|code, and the same of Condition and MedicationRequest. What has another category there is not found"),
      list("record.history", "Procedure;MedicationAdministration", [](C& c) -> auto& { return c.record->history; },
           "types, with ; between, whose history is asked for what was deleted, since searches and notifications are silent about it; not one of which a whole hospital "
           "writes more than the record can show each look. What was deleted of other types is found at night. Empty: of none"),
      choice("record.next_page", {"below-base", "rebase"}, "below-base", [](C& c) -> auto& { return c.record->next_page; },
             "where a search goes on: only below base_url; or, for a server that writes its inner name into links, on the same path below base_url. No other host is ever asked"),
      path("record.ca_file", Means::input_file, "", [](C& c) -> auto& { return c.record->ca_file; }, "PEM file of trusted authorities; empty: the system's"),
      path("listen.secret_file", Means::secret_file, "", [](C& c) -> auto& { return c.listen.secret_file; },
           "secrets, one a line: a request must carry one of them in secret_header (what Subscription.channel.header sends along); empty: none is asked for"),
      text("listen.secret_header", Means::text, "X-Sender-Key", [](C& c) -> auto& { return c.listen.secret_header; }, "the header of that secret"),
      path("listen.signature_secret_file", Means::secret_file, "", [](C& c) -> auto& { return c.listen.signature_secret_file; },
           "HMAC-SHA256 keys, one a line: a request must be signed with one of them; empty: no signature is asked for"),
      text("listen.signature_header", Means::text, "webhook-signature", [](C& c) -> auto& { return c.listen.signature_header; },
           "webhook-signature: over id, time and body, each message once within five minutes; any other name: hexadecimal, over the body alone"),
      choice("access.kind", {"none", "bearer", "basic", "backend-services"}, "none", [](C& c) -> auto& { return c.access.kind; },
             "how the record lets us in; backend-services: HL7 SMART Backend Services, a signed assertion for a short-lived token"),
      path("access.token_file", Means::secret_file, "", [](C& c) -> auto& { return c.access.token_file; }, "bearer: the file that holds the token"),
      text("access.user", Means::text, "", [](C& c) -> auto& { return c.access.user; }, "basic: the name"),
      path("access.password_file", Means::secret_file, "", [](C& c) -> auto& { return c.access.password_file; }, "basic: the file that holds the password"),
      text("access.client_id", Means::text, "", [](C& c) -> auto& { return c.access.client_id; }, "backend-services: as registered with the authorisation server"),
      text("access.scope", Means::text, kScopes, [](C& c) -> auto& { return c.access.scope; },
           "backend-services: the least that is needed to read facts and write plans; nothing is ever deleted but Subscriptions of ours. Where the server knows only the older spelling, write .read and .write"),
      text("access.token_url", Means::text, "", [](C& c) -> auto& { return c.access.token_url; },
           "backend-services: empty: taken from {base_url}/.well-known/smart-configuration"),
      path("access.key_file", Means::secret_file, "", [](C& c) -> auto& { return c.access.key_file; },
           "backend-services: PEM private key that signs, RSA of 2048 bits or more or P-384; its public half is served at /.well-known/jwks.json"),
      path("access.next_key_file", Means::coming_file, "", [](C& c) -> auto& { return c.access.next_key_file; },
           "backend-services: a key that is only published yet; the file need not be there. To change keys while the daemon runs: put the new key here, wait an hour, move it over key_file"),
      path("access.certificate", Means::input_file, "", [](C& c) -> auto& { return c.access.certificate; }, "PEM shown to the record where it asks for a certificate"),
      path("access.certificate_key", Means::secret_file, "", [](C& c) -> auto& { return c.access.certificate_key; }, "PEM: its key"),
      choice("subscriptions.form", {"none", "auto", "plain", "backport", "r5"}, "none", [](C& c) -> auto& { return c.subscriptions.form; },
             "our own Subscriptions at the record: none of them; auto: as its CapabilityStatement says; plain: R4 criteria; backport: R4 and R4B with topics; r5"),
      text("subscriptions.endpoint", Means::text, "", [](C& c) -> auto& { return c.subscriptions.endpoint; },
           "our FHIR base as the record reaches it, https://this.host/fhir; http on loopback only"),
      list("subscriptions.criteria", "Procedure?;MedicationAdministration?;Observation?;Task?;CarePlan?;Patient?;Encounter?;MedicationStatement?",
           [](C& c) -> auto& { return c.subscriptions.criteria; },
           "of form plain, with ; between: a Subscription each. None may name a status: nothing would be told of what leaves it"),
      list("subscriptions.topics", "", [](C& c) -> auto& { return c.subscriptions.topics; },
           "of the other forms, with ; between: the canonical address of a topic, then a blank and a filter (Observation?category=laboratory) where one is wanted"),
      choice("subscriptions.payload", {"form", "empty", "id-only", "full-resource"}, "form", [](C& c) -> auto& { return c.subscriptions.payload; },
             "what a notification carries; form: the whole resource with plain, else its id alone, so that little leaves the record"),
      text("subscriptions.contact", Means::text, "", [](C& c) -> auto& { return c.subscriptions.contact; },
           "whom the record's people call about them: mailto:..., tel:... or another address; empty: nobody is named"),
      number("subscriptions.heartbeat_seconds", "60", 0, 86'400, [](C& c) -> auto& { return c.subscriptions.heartbeat_seconds; },
             "asked for with topics: two of them missing, and the record is asked; 0: none"),
      number("subscriptions.days", "7", 1, 90, [](C& c) -> auto& { return c.subscriptions.days; }, "until its end; another takes its place before that"),
      path("protocol.file", Means::input_file, "profiles/protocol/cautious.toml", [](C& c) -> auto& { return c.protocol.file; },
           "the hospital's rule tables; the default is the cautious one, not approved"),
      path("site.file", Means::input_file, "profiles/site/default.toml", [](C& c) -> auto& { return c.site.file; }, "where the hospital records what"),
      text("site.time_zone", Means::zone, "!", [](C& c) -> auto& { return c.site.time_zone; },
           "IANA zone of every printed time; no default, for a wrong zone prints wrong times"),
      text("site.language", Means::language, "en", [](C& c) -> auto& { return c.site.language; }, "a folder of templates/"),
      choice("site.paper", {"A4", "Letter", "A5"}, "A4", [](C& c) -> auto& { return c.site.paper; }, "of the printed sheet"),
      choice("site.patient_code", {"none", "code-128", "data-matrix", "qr"}, "none", [](C& c) -> auto& { return c.site.patient_code; }, "the record number on the sheet, as the wards' scanners read it"),
      text("site.owner", Means::text, "", [](C& c) -> auto& { return c.site.owner; }, "Organization/id of the unit that owns the Tasks; empty: no owner is written"),
      text("site.owner_name", Means::text, "", [](C& c) -> auto& { return c.site.owner_name; }, "the unit's name for people"),
      choice("site.tasks_over_limit", {"wait", "group"}, "wait", [](C& c) -> auto& { return c.site.tasks_over_limit; },
             "Tasks over limits.tasks_per_patient_hour wait for their turn; with group the last one that is given names them with their times meanwhile"),
      choice("print.unencrypted", {"no", "yes"}, "no", [](C& c) -> auto& { return c.print->unencrypted; },
             "yes: ipp:// is taken to printers on other machines too, though sheets with names go through the network in clear"),
      text("print.queue", Means::print_queue, "", [](C& c) -> auto& { return c.print->facility.uri; },
           "IPP address of the printer of every place that has no [[print.unit]]; empty: only units print"),
      text("print.name", Means::text, "", [](C& c) -> auto& { return c.print->facility.name; }, "what people call that printer; empty: its host"),
      text("print.second_queue", Means::print_queue, "", [](C& c) -> auto& { return c.print->facility.second_uri; }, "taken when the first cannot print; empty: none"),
      text("print.second_name", Means::text, "", [](C& c) -> auto& { return c.print->facility.second_name; }, "what people call that one"),
      number("print.reroute_seconds", "60", 0, 3600, [](C& c) -> auto& { return c.print->reroute_seconds; },
             "how long a printer may be out of paper, jammed or silent before the second is taken; a void sheet does not wait"),
      number("print.person_seconds", "300", 0, 7200, [](C& c) -> auto& { return c.print->person_seconds; },
             "how long a sheet may be without paper before a Task asks somebody to print it; a void sheet asks as soon as no printer can"),
      number("print.answer_seconds", "15", 1, 120, [](C& c) -> auto& { return c.print->answer_seconds; }, "for one answer of a printer"),
      choice("print.shadow", {"no", "yes"}, "no", [](C& c) -> auto& { return c.print->shadow; }, "yes: prints with record.mode = shadow too, where nothing else leaves"),
      choice("print.rehearsal", {"no", "yes"}, "no", [](C& c) -> auto& { return c.print->rehearsal; }, "yes: prints on a rehearsal clock too"),
      number("limits.body_bytes", "67108864", 1024, 1 << 30, [](C& c) -> auto& { return c.limits.body_bytes; },
             "largest request body, 64 MiB: a searchset of a long stay; more is answered 413"),
      number("limits.header_bytes", "32768", 1024, 1 << 20, [](C& c) -> auto& { return c.limits.header_bytes; }, "largest request head; more is answered 431"),
      number("limits.connections", "512", 1, 100'000, [](C& c) -> auto& { return c.limits.connections; }, "served at once; one more is answered 503"),
      number("limits.connections_per_address", "64", 1, 100'000, [](C& c) -> auto& { return c.limits.connections_per_address; },
             "of these from one address, where the intake speaks TLS itself: one sender's silent connections keep nobody else out"),
      number("limits.read_seconds", "60", 1, 3600, [](C& c) -> auto& { return c.limits.read_seconds; }, "for one request to arrive"),
      number("limits.answer_seconds", "120", 1, 3600, [](C& c) -> auto& { return c.limits.answer_seconds; }, "for one answer to be made"),
      number("limits.pending_events", "20000", 1, 10'000'000, [](C& c) -> auto& { return c.limits.pending_events; },
             "events that may wait; above it intake is answered 503 with Retry-After, so that the sender keeps them"),
      number("limits.disk_free_mebibytes", "256", 0, 1 << 30, [](C& c) -> auto& { return c.limits.disk_free_mebibytes; },
             "room left where the store is, in MiB: below it intake is answered 503 with Retry-After, while what was taken can still be worked on"),
      number("limits.oldest_pending_seconds", "900", 1, 86'400, [](C& c) -> auto& { return c.limits.oldest_pending_seconds; },
             "age of the oldest waiting event or write at which /readyz fails: one interval of site checks"),
      number("limits.tasks_per_patient_hour", "100", 1, 1000, [](C& c) -> auto& { return c.limits.tasks_per_patient_hour; },
             "Tasks given for one patient in an hour, so that facts which keep changing flood no list of work; over it routine ones wait, and the plan, an alarm and a metric say "
             "so. Urgent ones, requests for facts and calls are never held back. This program's own choice: the busiest hour of the shipped stories, with a closure that fails, has 51"),
      number("limits.served_days", "30", 1, 3650, [](C& c) -> auto& { return c.limits.served_days; },
             "how long what was served here is kept after the end of its case; then it is removed"),
      number("limits.record_parallel", "4", 1, 64, [](C& c) -> auto& { return c.limits.record_parallel; }, "requests under way at once to the record"),
      number("limits.record_per_second", "5", 1, 10'000, [](C& c) -> auto& { return c.limits.record_per_second; },
             "requests begun a second to the record, which serves others as well; fewer where it says 429 or answers late"),
      number("limits.record_timeout_seconds", "60", 1, 600, [](C& c) -> auto& { return c.limits.record_timeout_seconds; }, "for one answer of the record"),
      number("limits.longest_backoff_seconds", "300", 1, 3600, [](C& c) -> auto& { return c.limits.longest_backoff_seconds; },
             "longest pause between two tries to send"),
      number("limits.settle_unknown_seconds", "150", 1, 3600, [](C& c) -> auto& { return c.limits.settle_unknown_seconds; },
             "how long the record may still be at work on a request that it did not answer"),
      number("limits.conflicts_before_person", "3", 1, 100, [](C& c) -> auto& { return c.limits.conflicts_before_person; },
             "conflicts in a row on one case before a person must look"),
      number("limits.quarantine_count", "1000", 1, 1'000'000, [](C& c) -> auto& { return c.limits.quarantine_count; }, "inputs kept aside for inspection"),
      number("limits.quarantine_bytes", "67108864", 1 << 20, std::int64_t{1} << 36, [](C& c) -> auto& { return c.limits.quarantine_bytes; },
             "bytes kept aside for inspection"),
  };
}

}  // namespace

std::span<const Key> configuration_keys() {
  static const std::vector<Key> keys = make_keys();
  return keys;
}

std::string describe_keys() {
  std::string out;
  for (const Key& key : configuration_keys()) {
    const std::string value = key.fallback == "!" ? "(required)" : key.number ? std::string{key.fallback} : fmt::format("\"{}\"", key.fallback);
    out += fmt::format("{} = {}  # {}", key.name, value, key.reason);
    if (!key.choices.empty()) out += fmt::format("; one of {}", fmt::join(key.choices, ", "));
    if (key.number) out += fmt::format("; {} to {}", key.low, key.high);
    out += '\n';
  }
  return out;
}

}  // namespace profile
