#include "app/engine.h"

#include <fmt/format.h>

#include <set>

#include "app/case_notes.h"
#include "app/deliver.h"
#include "app/forget_versions.h"
#include "app/lanes.h"
#include "app/looking.h"
#include "app/printing.h"
#include "app/record_side.h"
#include "app/subscriptions.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"

namespace app {
namespace {

constexpr std::size_t kBatch = 512;        // events taken up together: each patient is computed once for all of them, and nobody waits long for his 2xx
constexpr const char* kJournalling = "journalling events";
constexpr std::int64_t kNewsKept = 2000;   // lines kept for /news

fhir::Instant instant_of(Millis at) { return fhir::Instant{std::chrono::seconds{at / 1000}}; }

}  // namespace

Engine::Engine(EngineParts parts)
    : parts_(parts),
      evaluator_(std::make_unique<Evaluator>(parts.store, parts.rules, parts.log)),
      ours_(parts.rules),
      high_water_(parts.rules.configuration.limits.pending_events) {
  if (parts_.network) serve_here();
  if (parts_.network) record_ = std::make_unique<RecordSide>(parts_.store, parts_.executor, *parts_.network, parts_.rules, ours_);
  if (record_) {
    looking_ = make_looking();
    paced_ = std::make_unique<PacedLook>(parts_.executor, parts_.timers, [this] { looking_->round(); });
    subscriptions_ = make_subscriptions();
  }
  deliverer_ = std::make_unique<Deliverer>(parts_.store, parts_.clock, parts_.executor, parts_.timers, parts_.random, parts_.network, parts_.chart,
                                           parts_.log, deliver_options(parts_.rules), deliver_hooks());
  if (parts_.print && prints(parts_.rules)) printing_ = make_printing();
}

Engine::~Engine() {
  parts_.timers.cancel(timer_);
  for (const auto& [key, timer] : search_again_) parts_.timers.cancel(timer);
}

std::unique_ptr<Looking> Engine::make_looking() {
  const auto take = [this](std::vector<store::NewEvent> events, std::function<void(bool)> done) {
    submit({std::move(events), {}, {}, [done = std::move(done)](bool durable, bool) { done(durable); }});
  };
  return std::make_unique<Looking>(LookParts{parts_.store, parts_.clock, parts_.executor, parts_.timers, record_->getter(), [this] { return record_->why_no_answer(); }, parts_.rules, parts_.log, alarms_, take,
                                             [this] { after_work(); }});
}

std::unique_ptr<Printing> Engine::make_printing() {
  PrintingHooks hooks;
  hooks.store_failed = [this](const store::Error& error, const char* doing) { check(error, doing); };
  hooks.alarm = [this](const std::string& topic, const std::string& text) { alarms_.raise(topic, text); };
  hooks.calm = [this](const std::string& topic) { alarms_.calm(topic); };
  hooks.again = [this](const std::string& key, const std::string& trigger) { parts_.executor.post([this, key, trigger] { again(key, trigger); }); };
  return std::make_unique<Printing>(parts_.store, parts_.clock, parts_.executor, parts_.timers, *parts_.print, parts_.rules, parts_.log, std::move(hooks));
}

/// A sheet that a person has hung up need not come out of a printer any more.
void Engine::take_back_what_is_done(const Evaluation& evaluation) {
  if (!printing_) return;
  for (const CaseWork& work : evaluation.cases)
    if (work.by_hand)
      if (const auto order = parts_.store.print_order(*work.by_hand); order.has_value() && *order) printing_->take_back(**order);
}

std::string Engine::crowded() const {
  if (pending_.load() >= high_water_) return "too many events wait to be worked on";
  return parts_.disk_is_low && parts_.disk_is_low() ? "there is too little room left on the disk" : "";
}

void Engine::look_again(std::function<void()> done) {
  if (looking_) looking_->round();
  when_idle(std::move(done));
}

/// What the facts of a case refer to, and of a new case everything that was recorded before we heard of it.
void Engine::look_for(const Evaluation& evaluation) {
  if (!looking_) return;
  looking_->fetch(evaluation.wanted);
  for (const CaseWork& work : evaluation.cases)
    if (work.fresh && work.row.source.empty()) looking_->look_at(work.row.patient);
}

DeliverHooks Engine::deliver_hooks() {
  DeliverHooks hooks;
  hooks.store_failed = [this](const store::Error& error, const char* doing) { check(error, doing); };
  hooks.alarm = [this](const std::string& topic, const std::string& text) { alarms_.raise(topic, text); };
  hooks.calm = [this](const std::string& topic) { alarms_.calm(topic); };
  hooks.held = [this](const store::Write& row, const Leave& leave) { held(row, leave); };
  hooks.landed = [this] { after_work(); };
  if (!record_) return hooks;
  hooks.before_send = [this](const store::Write& row, auto then) { record_->check_patient(row, std::move(then)); };
  hooks.delivered = [this](store::Store& store, const store::Write& row, const transport::Response& response) {
    return record_->take_answer(store, row, response);
  };
  hooks.after_delivered = [this](const store::Write& row) { again(case_in(row.case_key), "the record took write " + std::to_string(row.sequence)); };
  hooks.look_up = [this](const store::Write& row, auto then) { record_->look_up(row, std::move(then)); };
  hooks.conflict = [this](const store::Write& row, int in_a_row, bool partly) { conflict(row, in_a_row, partly); };
  hooks.set_aside = [this](const store::Write& row, const std::string& why) {
    const bool aside = record_->sets_clashes_aside(row, why);
    if (aside) evaluator_->keep_clashes_here();
    return aside;
  };
  hooks.in_steps = [this](const store::Write& row) { return record_->in_steps(row); };
  hooks.write_in_steps = [this](const store::Write& row, auto then) { record_->write_in_steps(row, std::move(then)); };
  return hooks;
}

/// Somebody else has written. What of ours stands is read again, and the plan taken against that; a second time, or where a part of the write may stand, by this
/// attempt or an earlier one, with all that may have been forgotten.
void Engine::conflict(const store::Write& row, int in_a_row, bool partly) {
  const std::string key = case_in(row.case_key);
  const auto noted = partly || row.attempts > 0 ? parts_.store.transaction(parts_.clock.now(), [&](store::Store& store) { return forget_versions(store, key); })
                            : change_row(key, [&](store::Case& one) {
                                one.care_plan_etag.clear();
                                CaseNotes notes = notes_of(one);
                                notes.search = in_a_row > 1;
                                one.extra = text_of(notes);
                              });
  if (failed(noted, "noting a conflict")) return;
  if (in_a_row > deliver_options(parts_.rules).conflicts_before_person)
    return alarms_.raise("conflict " + key, fmt::format("{}: {} conflicts in a row; nothing more is written until a new fact arrives", key, in_a_row));
  search(key);
}

void Engine::held(const store::Write& row, const Leave& leave) {
  if (!leave.stop.empty()) {
    const auto noted = change_row(case_in(row.case_key), [&](store::Case& one) {
      CaseNotes notes = notes_of(one);
      notes.stopped = leave.stop;
      one.extra = text_of(notes);
    });
    if (failed(noted, "closing a case")) return;
    again(case_in(row.case_key), "the patient of the record is not the case's");
  }
  if (leave.seen) submit({{*leave.seen}, {}, {}, [](bool, bool) {}});
}

void Engine::search(const std::string& key) {
  if (!record_ || !searching_.insert(key).second) return;
  const auto row = parts_.store.case_of(key);
  if (failed(row, "reading a case") || !*row) return void(searching_.erase(key));
  record_->read_again(key, notes_of(**row).search, [this, key](SearchResult result) {
    std::vector<store::NewEvent> seen;
    for (Found& one : result.found) {
      if (one.alone) one.event.request_id = kStandsNow;
      seen.push_back(std::move(one.event));
    }
    submit({std::move(seen), {}, {}, [this, key, whole = result.whole](bool durable, bool) {
              when_settled_.push_back([this, key, ok = whole && durable] { searched(key, ok); });
            }});
  });
}

/// After a start: cases whose items were being asked for, or whose store is an older copy.
void Engine::search_what_is_unknown() {
  if (!record_) return;
  const auto keys = parts_.store.case_keys(1'000'000);
  if (failed(keys, "reading the cases")) return;
  for (const std::string& key : *keys) {
    const auto row = parts_.store.case_of(key);
    if (failed(row, "reading a case")) return;
    if (*row && (notes_of(**row).search || (!(*row)->care_plan_id.empty() && (*row)->care_plan_etag.empty()))) search(key);
  }
}

void Engine::searched(const std::string& key, bool whole) {
  searching_.erase(key);
  const std::string topic = "search " + key;
  if (!whole) {
    alarms_.raise(topic, fmt::format("{}: the record could not be asked what of ours stands there; asked again, nothing is written before{}", key, record_->why_no_answer().empty() ? "" : " (" + record_->why_no_answer() + ")"));
    parts_.timers.cancel(search_again_[key]);
    search_again_[key] = parts_.timers.after(std::chrono::seconds{10}, [this, key] { parts_.executor.post([this, key] { search(key); }); });
    return;
  }
  alarms_.calm(topic);
  std::string lost;
  const auto noted = change_row(key, [&](store::Case& one) {
    CaseNotes notes = notes_of(one);
    notes.search = false;
    one.extra = text_of(notes);
    if (!one.care_plan_id.empty() && one.care_plan_etag.empty()) lost = one.care_plan_id;
  });
  if (failed(noted, "noting what stands in the record")) return;
  alarms_.calm("lost " + key);
  if (lost.empty()) return again(key, "the record was asked what stands there");
  alarms_.raise("lost " + key, fmt::format("{}: the record no longer shows CarePlan/{} and does not say that it was deleted; nothing is written. If it was, send DELETE /fhir/CarePlan/{} here",
                                           key, lost, lost));
}

store::Result<void> Engine::change_row(const std::string& key, const std::function<void(store::Case&)>& change) {
  return parts_.store.transaction(parts_.clock.now(), [&](store::Store& store) -> store::Result<void> {
    auto row = store.case_of(key);
    if (row.has_error()) return row.error();
    if (!*row) return {};
    change(**row);
    return store.put_case(**row);
  });
}

bool Engine::check(const store::Error& error, const char* doing) {
  parts_.log.error(fmt::format("store: {} while {}: {}", store::name(error.kind), doing, error.text));
  if (error.kind == store::ErrorKind::io_fatal || error.kind == store::ErrorKind::corrupt) {
    if (!failed_ && fatal_) fatal_(error.text);
    failed_ = true;
  } else {
    alarms_.raise(std::string("store ") + doing, std::string("the store refused work while ") + doing + ": " + error.text);
  }
  return true;
}

void Engine::start(std::function<void(const std::string&)> fatal) {
  fatal_ = std::move(fatal);
  parts_.executor.post([this] {
    const auto recovered = parts_.store.recover_interrupted(parts_.clock.now());
    if (failed(recovered, "taking up interrupted writes")) return;
    if (*recovered > 0) parts_.log.warn(fmt::format("{} writes were under way at the last stop; what became of them is looked up first", *recovered));
    const auto ledger = parts_.store.event_ledger();
    if (failed(ledger, "counting events")) return;
    pending_ = ledger->pending;
    follow_mode();
    search_what_is_unknown();
    if (looking_) looking_->start();
    if (looking_ && parts_.rules.configuration.record->look_seconds > 0) looking_->round();
    if (subscriptions_) subscriptions_->start();
    after_work();
  });
}

void Engine::submit(Submission submission) {
  const std::scoped_lock lock(mutex_);
  waiting_.push_back(std::move(submission));
  if (drain_posted_) return;
  drain_posted_ = true;
  parts_.executor.post([this] { drain(); });
}

void Engine::drain() {
  std::deque<Submission> taken;
  {
    const std::scoped_lock lock(mutex_);
    taken.swap(waiting_);
    drain_posted_ = false;
  }
  const Millis now = parts_.clock.now();
  std::vector<store::NewEvent> events;
  for (Submission& one : taken)
    for (store::NewEvent& event : one.events) {
      event.received_at = now;
      events.push_back(std::move(event));
    }
  bool full = false;
  std::vector<std::pair<Heard, Hearing>> heard;
  const bool durable = !failed_ && journal(events, taken, now, full, heard);
  if (durable)
    for (const auto& [what, hearing] : heard) subscriptions_->taken(what, hearing);
  for (Submission& one : taken) one.done(durable, full);
  if (durable) pending_ += static_cast<std::int64_t>(events.size());
  after_work();
}

bool Engine::journal(const std::vector<store::NewEvent>& events, const std::deque<Submission>& taken, Millis now, bool& full, std::vector<std::pair<Heard, Hearing>>& heard) {
  const auto done = parts_.store.transaction(now, [&](store::Store& store) -> store::Result<void> {
    if (auto appended = store.append(events); appended.has_error()) return appended.error();
    for (const Submission& one : taken)
      for (store::Quarantined aside : one.aside) {
        aside.at = now;
        if (auto kept = store.quarantine(aside); kept.has_error()) return kept.error();
      }
    for (const Submission& one : taken)
      for (const Heard& what : one.heard) {
        if (!subscriptions_) continue;
        const auto counted = subscriptions_->take(store, what, now);
        if (counted.has_error()) return counted.error();
        heard.emplace_back(what, *counted);
      }
    return {};
  });
  if (done.has_value()) {
    alarms_.calm(std::string("store ") + kJournalling);
    return true;
  }
  full = done.error().kind == store::ErrorKind::full;
  check(done.error(), kJournalling);
  return false;
}

void Engine::after_work() {
  if (failed_ || stopping_) return;
  if (pending_ > 0) {
    if (!settle_posted_) parts_.executor.post([this] { settle(); });
    settle_posted_ = true;
    return;
  }
  for (auto& then : std::exchange(when_settled_, {})) then();
  if (pending_ > 0) return;  // taken up by the call that was posted
  wake();
  play_in_shadow();
  if (failed_) return;
  deliverer_->run();
  if (printing_) printing_->run();
  if (pending_ == 0 && deliverer_->idle() && !asking()) {
    step_clock();
    for (auto& waiter : std::exchange(idle_waiters_, {})) waiter();
  }
  arm();
}

void Engine::settle() {
  settle_posted_ = false;
  if (failed_ || stopping_) return;
  const auto batch = parts_.store.pending_events(kBatch);
  if (failed(batch, "reading pending events")) return;
  if (batch->empty()) pending_ = 0;
  else settle_batch(*batch);
  after_work();
}

void Engine::settle_batch(const std::vector<store::Event>& batch) {
  const Millis now = parts_.clock.now();
  std::vector<Ending> endings;
  std::set<PatientKey> patients;
  std::vector<std::string> told;
  for (const store::Event& event : batch) {
    auto taken = take_event(parts_.store, event, record_ ? parts_.rules.configuration.record->base_url : "");
    if (failed(taken, "taking up an event")) return;
    if (failed(record_ ? ours_.recognise(parts_.store, event, *taken) : ours_.recognise_paper(parts_.store, event, *taken), "recognising a write of ours")) return;
    if (event.body.empty() && event.method != "DELETE") look_again_for(event, told);
    const std::string topic = "taken " + event.resource_type + "/" + event.resource_id;
    if (!taken->alarm.empty()) alarms_.raise(topic, taken->alarm);
    else if (taken->fact) alarms_.calm(topic);
    if (taken->uncertain && looking_ && event.source.empty()) looking_->fetch({event.resource_type + "/" + event.resource_id}, true);
    if (taken->fact && looking_ && event.source.empty() && looking_->concerns_roster(event.resource_type + "/" + event.resource_id, event.body)) looking_->round();
    if (taken->ending.state == store::EventState::dead)
      parts_.log.warn(fmt::format("event {} ({}/{}) is kept aside: {}", event.id, event.resource_type, event.resource_id, taken->ending.reason));
    for (const PatientKey& patient : taken->patients)
      if (patients.insert(patient).second && failed(evaluator_->remember(patient), "reading a patient's facts")) return;
    if (taken->fact)
      for (const PatientKey& patient : taken->patients) evaluator_->note_arrival(patient, *taken->fact);
    if (taken->fact && failed(parts_.store.transaction(now, [&](store::Store& s) { return s.put_current(*taken->fact, taken->refers_to); }), "keeping a fact"))
      return;
    endings.push_back(std::move(taken->ending));
  }
  if (looking_) looking_->told_of(told);  // kept before these events count as done
  const std::string trigger = fmt::format("events {}..{}", batch.front().id, batch.back().id);
  commit(patients, endings, trigger, batch);
}

/// A sender only says that something has changed.
void Engine::look_again_for(const store::Event& event, std::vector<std::string>& told) {
  if (!looking_) return alarms_.raise("look again", "a sender only says that something changed (look again), and without a record there is nobody to ask: let it send the resource itself");
  if (event.resource_type.empty() || event.resource_id.empty()) return paced_->ask();
  if (fhir_read::relevant(event.resource_type)) told.push_back(event.resource_type + "/" + event.resource_id);
}

void Engine::commit(const std::set<PatientKey>& patients, const std::vector<Ending>& endings, const std::string& trigger,
                    const std::vector<store::Event>& batch) {
  const Millis now = parts_.clock.now();
  std::vector<Evaluation> evaluations;
  for (const PatientKey& patient : patients) {
    auto evaluation = evaluator_->evaluate(patient, now);
    if (failed(evaluation, "computing a plan")) return;
    evaluations.push_back(std::move(*evaluation));
  }
  for (const Evaluation& evaluation : evaluations) take_back_what_is_done(evaluation);
  const auto done = parts_.store.transaction(now, [&](store::Store& store) -> store::Result<void> {
    for (const Evaluation& evaluation : evaluations)
      for (const CaseWork& work : evaluation.cases) {
        if (auto kept = keep(store, work, trigger, now); kept.has_error()) return kept;
        for (const store::Item& item : work.here)
          if (auto kept = served_->keep(store, item); kept.has_error()) return kept;
        if (work.remove_served && served_)
          if (auto gone = served_->remove(store, work.row.key); gone.has_error()) return gone;
      }
    for (const Ending& ending : endings)
      if (auto settled = settle_one(store, ending, batch, now); settled.has_error()) return settled;
    return {};
  });
  if (failed(done, "committing plans and writes")) return;
  pending_ -= static_cast<std::int64_t>(endings.size());
  if (in_shadow(parts_.rules))
    for (const Evaluation& evaluation : evaluations)
      for (const CaseWork& work : evaluation.cases) in_shadow_.insert(work.row.key);
  for (const Evaluation& evaluation : evaluations) tell(evaluation, now);
  for (const Evaluation& evaluation : evaluations)
    for (const CaseWork& work : evaluation.cases)
      if (work.search) search(work.row.key);
  for (const Evaluation& evaluation : evaluations) look_for(evaluation);
}

store::Result<void> Engine::settle_one(store::Store& store, const Ending& ending, const std::vector<store::Event>& batch, Millis now) {
  if (ending.mark == store::Mark::quarantined) {
    for (const store::Event& event : batch) {
      if (event.id != ending.id) continue;
      if (auto kept = store.quarantine({0, event.id, now, event.source, ending.reason, event.body}); kept.has_error()) return kept.error();
    }
  }
  return store.settle_event(ending.id, ending.state, ending.reason, now, ending.mark);
}

store::Result<void> Engine::keep(store::Store& store, const CaseWork& work, const std::string& trigger, Millis now) {
  if (auto put = store.put_case(work.row); put.has_error()) return put;
  for (const auto& [sha256, content] : work.blobs)
    if (auto put = store.put_blob(sha256, content); put.has_error()) return put;
  if (work.by_hand)
    if (auto done = store.print_by_hand(*work.by_hand, now); done.has_error()) return done;
  if (work.print) {
    store::NewPrint order = *work.print;
    order.created_real = real_millis();
    if (auto ordered = store.order_print(order); ordered.has_error()) return ordered.error();
  }
  for (const store::Item& item : work.items)
    if (auto put = store.put_item(item); put.has_error()) return put;
  auto unsettled = store.unsettled_of_case(work.row.key);
  if (unsettled.has_error()) return unsettled.error();
  const std::string lane = documents_lane(work.row.key);
  auto documents = store.unsettled_of_case(lane);
  if (documents.has_error()) return documents.error();
  std::ranges::move(*documents, std::back_inserter(*unsettled));
  for (const store::Write& write : *unsettled)  // whatever held it is looked at anew
    if (write.state == store::WriteState::held)
      if (auto released = store.release_write(write.id, now); released.has_error()) return released;
  Millis waiting_since = now;  // a newer plan does not make the ward's wait shorter
  if (work.supersede)
    for (const store::Write& write : *unsettled)
      if (!write.may_have_left && (write.state == store::WriteState::queued || write.state == store::WriteState::held)) waiting_since = std::min(waiting_since, write.created_at);
  // Word of a sheet that is in the record already gives way only to a newer sheet.
  const bool sheet_waits = std::ranges::any_of(*unsettled, [&](const store::Write& write) { return write.case_key == lane && !write.target.ends_with(kMessage); });
  for (const std::string& key : {work.row.key, lane})
    if (work.supersede && (key != lane || sheet_waits))
      if (auto gone = store.supersede_unsent(key, "newer work", now); gone.has_error()) return gone.error();
  for (store::NewWrite write : work.writes) {
    write.created_at = std::min(write.created_at, waiting_since);
    if (auto queued = store.queue_write(write); queued.has_error()) return queued.error();
  }
  if (auto noted = store.add_evaluation({0, work.row.key, now, trigger, work.row.plan_hash}); noted.has_error()) return noted.error();
  return {};
}

void Engine::tell(const Evaluation& evaluation, Millis now) {
  for (const CaseWork& work : evaluation.cases)
    for (const std::string& line : work.news) {
      parts_.log.info(fmt::format("{} {}: {}", fhir::format_utc(instant_of(now)), work.row.key, line));
      news_.push_back({++news_count_, work.who.empty() ? line : work.who + ": " + line});
      if (news_.size() > kNewsKept) news_.pop_front();
    }
  for (const CaseWork& work : evaluation.cases) settle_alarms(work);
  for (const auto& [key, text] : evaluation.alarms) alarms_.raise("plan " + key, text);
  unmapped_.add(evaluation.issues);
}

void Engine::again(const std::string& key, const std::string& trigger) {
  const auto row = parts_.store.case_of(key);
  if (failed(row, "reading a case") || !*row) return;
  const PatientKey patient{(*row)->source, (*row)->patient};
  commit({patient}, {}, trigger, {});
  after_work();
}

void Engine::wake() {
  for (int round = 0; round < 1000 && !failed_; ++round) {
    const auto keys = parts_.store.due_case_keys(parts_.clock.now(), 1);
    if (failed(keys, "looking for due cases") || keys->empty()) return;
    const auto row = parts_.store.case_of(keys->front());
    if (failed(row, "reading a due case") || !*row) return;
    const PatientKey patient{(*row)->source, (*row)->patient};
    if (failed(evaluator_->remember(patient), "reading a patient's facts")) return;
    commit({patient}, {}, "wake", {});
  }
}

void Engine::arm() {
  parts_.timers.cancel(timer_);
  const auto next = parts_.store.next_wake();
  if (failed(next, "looking for the next wake-up") || !*next) return;
  const auto real = parts_.clock.real_time_until(**next);
  if (!real) return;
  timer_ = parts_.timers.after(*real + std::chrono::milliseconds{1}, [this] { parts_.executor.post([this] { after_work(); }); });
}

void Engine::when_idle(std::function<void()> done) {
  idle_waiters_.push_back(std::move(done));
  after_work();
}

}  // namespace app
