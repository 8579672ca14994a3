#include "app/compose.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/case_notes.h"
#include "app/clashes_here.h"
#include "app/deliver.h"
#include "app/evaluate.h"
#include "app/lanes.h"
#include "app/make_sheet.h"
#include "app/owners.h"
#include "app/paper.h"
#include "app/standing_items.h"
#include "app/task_limit.h"
#include "clinical/names.h"
#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "fhir_write/document_change.h"
#include "fhir_write/identity.h"
#include "fhir_write/r5.h"
#include "fhir_write/transaction.h"
#include "json/tree.h"
#include "report/timeline.h"

namespace app {
namespace {

constexpr std::string_view kMoreFollow = " more-follow";

using clinical::CasePlan;
using clinical::Difference;
using clinical::ItemKey;
using clinical::ItemKind;
using clinical::Standing;

clinical::Instant instant_of(Millis at) { return clinical::Instant{std::chrono::seconds{at / 1000}}; }
Millis millis_of(clinical::Instant at) { return at.time_since_epoch().count() * 1000; }

/// The folder of a case: no data about the patient.
std::string folder_of(std::string key) {
  if (key.starts_with('|')) key.erase(0, 1);
  std::replace_if(key.begin(), key.end(), [](char c) { return c == '/' || c == '|'; }, '-');
  return key;
}

class Composer {
 public:
  Composer(const ComposeInput& in, Log& log)
      : in_(in), plan_(in.plan), log_(log), files_(!in.rules.configuration.record), voice_{in.rules.words, words_context()}, view_(report::written_view(in.plan, in.rules.protocol, voice_)) {}

  CaseWork compose() {
    const auto standing = standing_of(in_.items);
    clinical::WantedOptions options{intent(), in_.patient_steps_elsewhere};
    ask_for_paper(options, standing);
    ask_for_a_look_at_the_name(options, standing);
    auto wanted = clinical::wanted(plan_, in_.rules.protocol, options);
    mark_what_concerns_all(wanted, standing);
    Difference difference = clinical::difference(wanted, standing, instant_of(in_.now));
    limit_tasks(wanted, difference, standing);
    start_row(difference);
    let_the_sheet_settle(difference);
    if (!files_ && newly_withdrawn() && work_.row.sheet_count > 0 && prints(in_.rules)) print(draw_void_sheet(), true);
    const bool same = difference.empty() && in_.prior && in_.prior->plan_hash == work_.row.plan_hash;
    if (difference.empty() && !files_) work_.supersede = true;  // what waits is not wanted any more
    if (in_.write_under_way || same || (!files_ && !may_write())) return std::move(work_);
    if (files_) {
      write_files(difference, standing);
    } else if (!difference.empty()) {
      write_to_record(difference, standing);
    }
    return std::move(work_);
  }

 private:
  /// What is more than normally confidential, or labelled otherwise, is written on everything that stands, not only on what changes next, and so is the unit
  /// that owns it. A sheet's causes have no place for it.
  void mark_what_concerns_all(clinical::Wanted& wanted, const std::vector<Standing>& standing) {
    std::string mark;
    if (in_.confidentiality == "R" || in_.confidentiality == "V") mark += " " + in_.confidentiality;
    for (const auto& label : in_.sensitivity) mark += " " + label.code;
    const auto& site = in_.rules.configuration.site;
    owner_ = owner_at(site, in_.places.empty() && in_.prior ? notes_of(*in_.prior).places : in_.places);
    if (!site.units.empty()) in_other_hands_ = in_other_hands(in_.items, standing, owner_);
    for (auto& item : wanted.items) {
      if (item.key.kind == ItemKind::document) continue;
      item.fingerprint += mark;
      if (!site.units.empty() && item.key.kind == ItemKind::task) item.fingerprint += " " + owner_.reference;
      if (item.key.kind == ItemKind::care_plan)
        for (const auto& one : in_other_hands_) item.fingerprint += " " + fhir::sha256_hex(one.title + "\n" + one.who);
    }
  }

  /// Routine Tasks over the limit wait. A plan that says so is another plan than one that does not.
  void limit_tasks(clinical::Wanted& wanted, Difference& difference, const std::vector<Standing>& standing) {
    const auto limit = in_.rules.configuration.limits.tasks_per_patient_hour;
    const bool any = std::ranges::any_of(difference.changes, [](const clinical::Change& c) { return c.kind == clinical::ChangeKind::create && c.key.kind == ItemKind::task; });
    if (!any || !in_.given) return;
    const auto given = in_.given();
    hold(wanted, difference, standing, given, limit);
    work_.new_tasks = std::ranges::count_if(difference.changes, [](const clinical::Change& c) { return c.kind == clinical::ChangeKind::create && c.key.kind == ItemKind::task; });
  }
  void hold(clinical::Wanted& wanted, Difference& difference, const std::vector<Standing>& standing, const std::vector<clinical::Instant>& given, std::int64_t limit) {
    held_ = hold_back(difference, given, limit, instant_of(in_.now));
    if (held_.items.empty()) return;
    for (auto& item : wanted.items)
      if (item.key.kind == ItemKind::care_plan) item.fingerprint += kMoreFollow;
    difference = clinical::difference(wanted, standing, instant_of(in_.now));
    held_ = hold_back(difference, given, limit, instant_of(in_.now));
    if (held_.again_at && (!difference.again_at || *held_.again_at < *difference.again_at)) difference.again_at = held_.again_at;
    work_.held_tasks = static_cast<std::int64_t>(held_.items.size());
  }

  /// What of ours stands in the record is known, and nobody else writes there for us.
  bool may_write() {
    const CaseNotes notes = notes_of(work_.row);
    work_.search = notes.search || (!work_.row.care_plan_id.empty() && work_.row.care_plan_etag.empty());
    return !notes.removed && !work_.search && notes.foreign.empty() && in_.patient.source.empty();
  }
  words::Context words_context() const {
    const auto* zone = words::zone_named(in_.rules.configuration.site.time_zone);
    return words::context_at(in_.plan.started.value_or(instant_of(in_.now)), zone);
  }
  clinical::Intent intent() const { return clinical::intent_for(in_.rules.protocol); }
  bool r5() const { return !files_ && in_.rules.configuration.record->fhir == "R5"; }
  json::Value as_sent(json::Value r4) const { return r5() ? fhir_write::as_r5(std::move(r4), types_served(in_.rules)) : r4; }
  bool test_data() const {
    const auto& record = in_.rules.configuration.record;
    return record ? record->purpose == "test" : in_.plan.patient.test_data;
  }

  bool newly_withdrawn() const { return in_.plan.state == clinical::CaseState::withdrawn && in_.prior && in_.prior->state != "withdrawn"; }

  /// A Task where the sheet shows the record number in place of a name that no font can draw; once somebody has compared it, that is enough.
  void ask_for_a_look_at_the_name(clinical::WantedOptions& options, const std::vector<Standing>& standing) const {
    const std::string letters = unprintable_in(in_.plan.patient.name);
    const bool compared = std::ranges::any_of(standing, [](const Standing& one) { return one.key.step == clinical::Step::check_sheet && one.state == clinical::Stands::completed; });
    if (!letters.empty() && !compared) options.unreadable = clinical::Reason{"print.name-unreadable", {{"letters", letters}}};
  }

  /// A Task for a sheet that no printer brings out. A person who completes it has hung up the sheet, or taken it down.
  void ask_for_paper(clinical::WantedOptions& options, const std::vector<Standing>& standing) {
    if (in_.plan.state == clinical::CaseState::withdrawn && !in_.prints.empty() && in_.prior) fill(plan_, notes_of(*in_.prior).subject);
    for (const store::PrintOrder& order : in_.prints)
      if (order.state == store::PrintState::printed || order.state == store::PrintState::by_hand) options.sheets_on_paper.push_back(static_cast<int>(order.sheet));
    if (in_.prints.empty() || in_.prints.back().asked_at == 0 || ended(in_.prints.back().state)) return;
    const store::PrintOrder& order = in_.prints.back();
    options.paper = clinical::PaperNeeded{static_cast<int>(order.sheet), order.is_void, paper_reason(order.ask)};
    const auto is_done = [&](const Standing& one) {
      return one.state == clinical::Stands::completed && one.key.step == clinical::Step::print_sheet && one.key.cause == fmt::format("sheet {}", order.sheet);
    };
    if (std::ranges::none_of(standing, is_done)) return;
    work_.by_hand = order.id;
    options.sheets_on_paper.push_back(static_cast<int>(order.sheet));
    options.paper.reset();
  }

  /// Orders the newest sheet on paper.
  void print(const std::string& pdf, bool is_void) {
    if (pdf.empty() || !prints(in_.rules)) return;
    store::NewPrint order;
    order.case_key = in_.key;
    order.sheet = work_.row.sheet_count;
    order.is_void = is_void;
    order.document = fhir::sha256_hex(pdf);
    order.created_at = in_.now;
    work_.blobs.emplace_back(order.document, pdf);
    work_.print = std::move(order);
  }

  /// Numbers on paper are never used twice, though a sheet that the record has not confirmed is made anew under its ordinal.
  void number_the_paper(Difference& difference) const {
    if (!prints(in_.rules)) return;
    for (auto& change : difference.changes)
      if (change.kind == clinical::ChangeKind::create && change.key.kind == ItemKind::document) {
        change.key.ordinal = std::max(change.key.ordinal, static_cast<int>(work_.row.sheet_count) + 1);
        if (change.item) change.item->key = change.key;
      }
  }

  void start_row(const Difference& difference) {
    store::Case& row = work_.row;
    if (in_.prior) row = *in_.prior;
    row.key = in_.key;
    row.patient = in_.patient.reference;
    row.source = in_.patient.source;
    row.as_of = in_.now;
    row.state = clinical::name_of(in_.plan.state);
    row.open = in_.plan.state != clinical::CaseState::finished && in_.plan.state != clinical::CaseState::withdrawn;
    row.written_view = json::write(view_);
    row.plan_hash = report::plan_hash(view_);
    row.plan = json::write(report::timeline({in_.plan}, in_.rules.protocol, instant_of(in_.now), voice_, {}));
    if (row.extra.empty()) row.extra = text_of(first_notes());
    note_sites(row);
    note_places(row);
    std::optional<clinical::Instant> wake = in_.plan.next_change;
    if (difference.again_at && (!wake || *difference.again_at < *wake)) wake = difference.again_at;
    row.wake_at = wake ? std::optional(millis_of(*wake)) : std::nullopt;
    keep_open_for_a_correction(row);
    keep_served_for_a_while(row);
  }

  /// What is served here is read for some time after the end of a case, and then removed.
  void keep_served_for_a_while(store::Case& row) {
    if (files_ || (types_served(in_.rules).empty() && std::ranges::none_of(in_.items, is_clash_here))) return;
    constexpr Millis day = 24LL * 3600 * 1000;
    CaseNotes notes = notes_of(row);
    if (notes.removed) return;
    const bool over = in_.plan.state == clinical::CaseState::finished || in_.plan.state == clinical::CaseState::withdrawn;
    notes.ended = !over ? 0 : notes.ended > 0 ? notes.ended : in_.now;
    const Millis until = notes.ended + in_.rules.configuration.limits.served_days * day;
    if (over && in_.now >= until) notes.removed = work_.remove_served = true;
    else if (over) row.wake_at = row.wake_at ? std::min(*row.wake_at, until) : until;
    row.extra = text_of(notes);
  }

  /// A burst of facts makes one sheet: a new one waits a few seconds for more, unless what hangs at the bed is no longer safe to follow.
  void let_the_sheet_settle(Difference& difference) {
    constexpr Millis settling = 5000;
    CaseNotes notes = notes_of(work_.row);
    const bool wanted = std::ranges::any_of(difference.changes, [](const clinical::Change& c) { return c.kind == clinical::ChangeKind::create && c.key.kind == ItemKind::document; });
    if (!wanted || difference.at_once) {
      notes.sheet_since = 0;
    } else {
      if (notes.sheet_since == 0 || notes.sheet_since > in_.now) notes.sheet_since = in_.now;
      const Millis ready = notes.sheet_since + settling;
      if (in_.now < ready) {
        std::erase_if(difference.changes, [](const clinical::Change& c) { return c.key.kind == ItemKind::document; });
        difference.sheet_causes.clear();
        work_.row.wake_at = work_.row.wake_at ? std::min(*work_.row.wake_at, ready) : ready;
      }
    }
    work_.row.extra = text_of(notes);
  }

  /// A death or a merge may be corrected: the patient of a stopped case is looked at for some days more.
  void keep_open_for_a_correction(store::Case& row) const {
    constexpr Millis days = 7LL * 24 * 3600 * 1000;
    if (!in_.plan.stopped || in_.plan.stopped->code == "case.stopped.subject") return;
    const Millis until = (in_.plan.started ? millis_of(*in_.plan.started) : in_.now) + days;
    row.open = in_.now < until;
    if (row.open) row.wake_at = until;
  }

  void note_places(store::Case& row) const {
    if (in_.places.empty()) return;
    CaseNotes notes = notes_of(row);
    notes.places = in_.places;
    row.extra = text_of(notes);
  }

  void note_sites(store::Case& row) const {
    CaseNotes notes = notes_of(row);
    for (const auto& site : in_.plan.sites) {
      if (site.side != clinical::Side::unknown) notes.sides[site.key] = clinical::name_of(site.side);
      if (site.high_watch) notes.closer.try_emplace(site.key, in_.now);
      else notes.closer.erase(site.key);
    }
    row.extra = text_of(notes);
  }

  /// The identity of a Procedure that has changed its patient names the patient, that of one that bears another's business identifier itself: two cases share nothing.
  CaseNotes first_notes() const {
    CaseNotes notes;
    notes.identity = (in_.patient.source.empty() ? "" : in_.patient.source + "|") + fhir_write::case_identity_of(in_.plan);
    notes.known_since = in_.now;
    if (in_.key != case_key(in_.patient, in_.plan)) notes.identity += "|" + in_.patient.reference;
    if (in_.is_taken && in_.is_taken(notes.identity)) notes.identity += "|" + in_.key;
    return notes;
  }

  fhir_write::WriterContext context() const {
    fhir_write::WriterContext c{in_.rules.protocol, in_.rules.words, voice_.context, in_.rules.words.language(), AFTERSHEATH_VERSION,
                                in_.rules.installation, in_.rules.record_key, notes_of(work_.row).identity, work_.row.plan_hash,
                                files_ ? fhir_write::Form::file : fhir_write::Form::record};
    c.test_data = test_data();
    c.confidentiality = in_.confidentiality;
    c.rehearsal = in_.rules.rehearsal;
    c.now = instant_of(in_.now);
    c.owner = owner_;
    c.in_other_hands = in_other_hands_;
    c.sensitivity = in_.sensitivity;
    c.on_server = on_server(in_.items);
    if (r5())
      for (auto& [key, standing] : c.on_server) standing.body = fhir_write::from_r5(std::move(standing.body));
    const auto& documents = in_.rules.configuration.documents;
    c.inline_pdf = documents.attachment == "inline";
    c.page = documents.attachment == "xhtml";
    c.document_type = documents.type;
    c.document_category = documents.category;
    c.author = {documents.author, documents.author_name};
    c.tasks_elsewhere = is_served(in_.rules, "CarePlan");
    c.held_back = held_.items;
    c.last_given = held_.last_given;
    c.tasks_per_hour = in_.rules.configuration.limits.tasks_per_patient_hour;
    c.group_held_back = in_.rules.configuration.site.tasks_over_limit == "group";
    return c;
  }

  /// The sheet that the difference asks for; none where it asks for none.
  std::optional<fhir_write::Sheet> sheet_for(const Difference& difference) {
    const auto made = std::find_if(difference.changes.begin(), difference.changes.end(), [](const clinical::Change& change) {
      return change.kind == clinical::ChangeKind::create && change.key.kind == ItemKind::document;
    });
    if (made == difference.changes.end()) return std::nullopt;
    SheetWish wish{in_.rules, in_.plan, work_.row.plan_hash, std::max(1, made->key.ordinal)};
    wish.now = in_.now;
    wish.test_data = test_data();
    std::int64_t before = made->replaces ? made->replaces->ordinal : 0;
    if (prints(in_.rules)) before = work_.row.sheet_count;  // what hangs at the bed, whatever the record has confirmed
    if (before > 0) wish.supersedes = static_cast<int>(before);
    if (before > 0) wish.superseded_at = time_of_sheet(before);
    auto drawn = make_sheet(wish);
    if (!drawn.warning.empty()) log_.warn(in_.key + ": sheet: " + drawn.warning);
    work_.row.sheet_count = wish.number;
    note_sheet(wish.number);
    print(drawn.pdf, false);
    return fhir_write::Sheet{std::move(drawn.pdf)};
  }

  /// The time that a sheet bears; none: it was made before such times were kept.
  std::optional<Millis> time_of_sheet(std::int64_t number) const {
    const CaseNotes notes = notes_of(work_.row);
    if (const auto kept = notes.sheet_times.find(number); kept != notes.sheet_times.end()) return kept->second;
    return in_.prior ? std::optional(in_.prior->as_of) : std::nullopt;
  }

  void note_sheet(int number) {
    constexpr std::size_t kept = 4;
    CaseNotes notes = notes_of(work_.row);
    notes.sheet_since = 0;
    notes.sheet_times[number] = in_.now;
    while (notes.sheet_times.size() > kept) notes.sheet_times.erase(notes.sheet_times.begin());
    notes.subject = subject_of(in_.plan);
    work_.row.extra = text_of(notes);
  }

  void queue_file(const std::string& name, std::string content) {
    store::NewWrite write;
    write.case_key = in_.key;
    write.kind = store::WriteKind::file;
    write.target = folder_of(in_.key) + "/" + name;
    write.body = std::move(content);
    write.created_at = write.next_attempt_at = in_.now;
    work_.writes.push_back(std::move(write));
  }

  void write_files(Difference& difference, const std::vector<Standing>& standing) {
    number_the_paper(difference);
    const auto sheet = sheet_for(difference);
    const auto after = clinical::applied(difference, standing);
    if (!difference.empty()) {
      const auto transaction = fhir_write::transaction(context(), {plan_, difference, after, sheet ? &*sheet : nullptr});
      keep_items(transaction, after);
      queue_file(fmt::format("transaction-{}.json", ++work_.row.transaction_count), json::write_pretty(transaction.bundle) + "\n");
    }
    if (sheet) queue_file(fmt::format("sheet-{}.pdf", work_.row.sheet_count), sheet->pdf);
    if (newly_withdrawn()) queue_void_sheet();
    queue_file("timeline.json", json::write_pretty(report::timeline({in_.plan}, in_.rules.protocol, instant_of(in_.now), voice_, {})) + "\n");
  }

  void queue_void_sheet() {
    const bool hangs = work_.row.sheet_count > 0;
    const std::string pdf = draw_void_sheet();
    queue_file(fmt::format("sheet-{}.pdf", work_.row.sheet_count), pdf);
    if (hangs) print(pdf, true);
  }

  std::string draw_void_sheet() {
    const auto voided = work_.row.sheet_count;
    CasePlan known = in_.plan;
    fill(known, notes_of(work_.row).subject);
    SheetWish wish{in_.rules, known, work_.row.plan_hash, static_cast<int>(++work_.row.sheet_count)};
    if (voided > 0) {
      wish.supersedes = static_cast<int>(voided);
      wish.superseded_at = time_of_sheet(voided);
    }
    wish.now = in_.now;
    wish.test_data = test_data();
    wish.is_void = true;
    return make_sheet(wish).pdf;
  }

  /// Rows of every item that the transaction holds, as they stand once it is in place.
  void keep_items(const fhir_write::Transaction& transaction, const std::vector<Standing>& after) {
    for (const auto& entry : transaction.entries) {
      if (!entry.key) continue;
      const auto standing = std::find_if(after.begin(), after.end(), [&](const Standing& one) { return one.key == *entry.key; });
      if (standing == after.end()) continue;
      store::Item item = row_of(*standing, in_.key, entry.identity, fhir_write::type_of(entry.key->kind));
      item.body = json::write(entry.resource);
      if (files_) item.server_id = entry.identity;
      work_.items.push_back(std::move(item));
    }
  }

  void write_to_record(Difference& difference, const std::vector<Standing>& standing) {
    work_.supersede = true;
    const auto created = std::find_if(difference.changes.begin(), difference.changes.end(), [](const clinical::Change& change) {
      return change.kind == clinical::ChangeKind::create && change.key.kind == ItemKind::care_plan;
    });
    if (created != difference.changes.end()) return queue_shell(created->key);
    if (work_.row.care_plan_id.empty()) return;  // nothing was ever written, nothing is wanted
    if (clashes_may_be_here(in_.rules)) work_.here = take_clashes_here(difference, {in_, context(), plan_, standing});
    if (difference.empty()) return;
    number_the_paper(difference);
    std::vector<store::Item> kept;
    if (serves(in_.rules)) {
      kept = write_documents(difference, standing);
      std::erase_if(difference.changes, [](const clinical::Change& c) { return c.key.kind == ItemKind::document; });
      if (difference.empty()) return void(work_.items = std::move(kept));
    }
    const auto sheet = sheet_for(difference);
    const auto after = clinical::applied(difference, standing);
    const auto transaction = fhir_write::transaction(context(), {plan_, difference, after, sheet ? &*sheet : nullptr});
    keep_items(transaction, after);
    queue_to_record(store::WriteKind::transaction, {"POST", "", {}}, json::write(as_sent(transaction.bundle)));
    ++work_.row.transaction_count;
    work_.items = std::move(kept);
  }

  /// The documents of a change go their own way, and where none can go now they are left for later: the list of work does not wait for them. Gives the items
  /// that stand already, because the record takes no change of them.
  std::vector<store::Item> write_documents(const Difference& whole, const std::vector<Standing>& standing) {
    Difference documents = whole;
    const auto& wants = in_.rules.configuration.documents;
    const bool waits = in_.documents_under_way || (wants.encounter == "needed" && plan_.encounter.empty());
    if (waits) std::erase_if(documents.changes, [](const clinical::Change& c) { return c.key.kind == ItemKind::document && c.kind == clinical::ChangeKind::create; });
    if (in_.documents_under_way) std::erase_if(documents.changes, [](const clinical::Change& c) { return c.key.kind == ItemKind::document; });
    const auto sheet = sheet_for(documents);
    const auto after = clinical::applied(documents, standing);
    const fhir_write::Work work{plan_, documents, after, sheet ? &*sheet : nullptr};
    std::vector<store::Item> kept;
    Difference sent = documents;
    if (wants.updates == "no") {
      for (const clinical::Change& change : documents.changes)
        if (change.key.kind == ItemKind::document && change.kind == clinical::ChangeKind::withdraw) note_withdrawn(change.key, after, kept);
      std::erase_if(sent.changes, [](const clinical::Change& c) { return c.kind == clinical::ChangeKind::withdraw; });
    }
    const auto change = fhir_write::document_change(context(), {plan_, sent, after, work.sheet});
    keep_items(change, after);
    if (!change.entries.empty()) queue_to_record(store::WriteKind::transaction, {"POST", "", {}}, json::write(as_sent(change.bundle)), documents_lane(in_.key));
    for (const auto what : {fhir_write::Told::sheets, fhir_write::Told::calls})
      if (const auto told = wants.communication == "yes" ? fhir_write::communication(context(), work, what) : std::nullopt)
        queue_to_record(store::WriteKind::transaction, {"POST", std::string(kMessage), {}}, json::write(as_sent(told->bundle)), what == fhir_write::Told::sheets ? documents_lane(in_.key) : messages_lane(in_.key));
    return kept;
  }

  void note_withdrawn(const ItemKey& key, const std::vector<Standing>& after, std::vector<store::Item>& kept) const {
    const auto standing = std::ranges::find(after, key, &Standing::key);
    for (store::Item item : in_.items)
      if (standing != after.end() && key_of(item) == key) {
        item.status = item.intended_status = "withdrawn";
        kept.push_back(std::move(item));
      }
  }

  void queue_shell(const ItemKey& care_plan) {
    const auto shell = fhir_write::shell(context(), in_.plan, care_plan);
    store::Item item = row_of({care_plan, "", clinical::Stands::open, "", std::nullopt}, in_.key, shell.identity, "CarePlan");
    item.body = json::write(shell.resource);
    work_.items.push_back(std::move(item));
    queue_to_record(store::WriteKind::single, {"POST", "CarePlan", {{"If-None-Exist", shell.if_none_exist}}}, json::write(as_sent(shell.resource)));
  }

  /// The items wait in a blob until the record has answered: only what it confirmed stands.
  void queue_to_record(store::WriteKind kind, const WriteTarget& target, std::string body, const std::string& lane = {}) {
    store::NewWrite write;
    write.case_key = lane.empty() ? in_.key : lane;
    write.kind = kind;
    write.target = text_of(target);
    write.created_at = write.next_attempt_at = in_.now;
    write.shadow = in_.rules.configuration.record->mode == "shadow";
    work_.blobs.emplace_back(pending_items_name(body), text_of(std::exchange(work_.items, {})));
    write.body = std::move(body);
    work_.writes.push_back(std::move(write));
  }

  const ComposeInput& in_;
  CasePlan plan_;  ///< as in_.plan; of a withdrawn case that prints, with what its sheets said
  Log& log_;
  bool files_;
  words::Voice voice_;
  json::Value view_;
  CaseWork work_;
  HeldBack held_;
  fhir_write::Named owner_;
  std::vector<fhir_write::WriterContext::InOtherHands> in_other_hands_;
};

}  // namespace

CaseWork compose(const ComposeInput& input, Log& log) { return Composer(input, log).compose(); }

std::string pending_items_name(const std::string& write_body) { return fhir::sha256_hex("items waiting for " + fhir::sha256_hex(write_body)); }

}  // namespace app
