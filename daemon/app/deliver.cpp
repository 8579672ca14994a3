#include "app/deliver.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/answer_text.h"
#include "app/rules.h"
#include "transport/retry_after.h"

namespace app {

using std::chrono::nanoseconds;
using std::chrono::seconds;
using store::Effect;
using store::Write;
using transport::Failure;
using transport::Response;

struct Deliverer::Alive {};

DeliverOptions deliver_options(const Rules& rules) {
  const auto& limits = rules.configuration.limits;
  DeliverOptions options;
  if (rules.configuration.record) options.base_url = rules.configuration.record->base_url;
  options.longest_backoff = seconds{limits.longest_backoff_seconds};
  options.settle_unknown = seconds{limits.settle_unknown_seconds};
  options.timeout = seconds{limits.record_timeout_seconds};
  options.conflicts_before_person = static_cast<int>(limits.conflicts_before_person);
  return options;
}

std::string text_of(const WriteTarget& target) {
  std::string text = target.method + " " + target.path;
  for (const auto& header : target.headers) text += "\n" + header.name + ": " + header.value;
  return text;
}

WriteTarget target_from(const std::string& text) {
  WriteTarget target;
  std::size_t line_end = text.find('\n');
  const std::string first = text.substr(0, line_end);
  target.method = first.substr(0, first.find(' '));
  target.path = first.substr(first.find(' ') + 1);
  while (line_end != std::string::npos) {
    const std::size_t begin = line_end + 1;
    line_end = text.find('\n', begin);
    const std::string line = text.substr(begin, line_end == std::string::npos ? line_end : line_end - begin);
    if (const auto colon = line.find(": "); colon != std::string::npos) target.headers.push_back({line.substr(0, colon), line.substr(colon + 2)});
  }
  return target;
}

Deliverer::Deliverer(store::Store& store, PlanClock& clock, Executor& executor, transport::Timers& timers, RandomSource& random,
                     transport::Network* network, ChartDisk* chart, Log& log, DeliverOptions options, DeliverHooks hooks)
    : store_(store), clock_(clock), executor_(executor), timers_(timers), random_(random), network_(network), chart_(chart), log_(log),
      options_(std::move(options)), hooks_(std::move(hooks)), alive_(std::make_shared<Alive>()) {}

Deliverer::~Deliverer() {
  for (const auto& [id, timer] : resting_) timers_.cancel(timer);
}

void Deliverer::back(std::function<void()> work) {
  executor_.post([alive = std::weak_ptr<Alive>(alive_), work = std::move(work)] {
    if (alive.lock()) work();
  });
}

bool Deliverer::failed(const store::Result<void>& result, const char* doing) {
  if (result.has_value()) return false;
  hooks_.store_failed(result.error(), doing);
  return true;
}

void Deliverer::landed(store::WriteId id) {
  in_flight_.erase(id);
  back([this] { hooks_.landed(); });
}

void Deliverer::run() {
  for (;;) {
    const auto rows = store_.next_deliverable(clock_.now(), 64);
    if (rows.has_error()) return hooks_.store_failed(rows.error(), "looking for writes to hand out");
    bool any = false;
    for (const Write& row : *rows) {
      if (in_flight_.contains(row.id) || resting_.contains(row.id)) continue;
      any = any || row.kind == store::WriteKind::file;
      hand_out(row);
    }
    if (!any) return;  // files are done at once, and the next of the same case can follow
  }
}

void Deliverer::hand_out(const Write& row) {
  if (row.kind == store::WriteKind::file) return put_file(row);
  if (!network_) return;
  in_flight_.insert(row.id);
  if (row.state == store::WriteState::verify) return verify(row);
  check_then_send(row);
}

void Deliverer::put_file(const Write& row) {
  if (failed(store_.mark_sent(row.id, clock_.now()), "marking a file as under way")) return;
  const std::string wrong = chart_->put(row.target, row.body);
  if (wrong.empty()) {
    hooks_.calm("chart");
    (void)failed(store_.mark_delivered(row.id, "", clock_.now()), "marking a file as written");
    return;
  }
  log_.error(fmt::format("chart folder: {}; kept and tried again", wrong));
  hooks_.alarm("chart", "the chart folder cannot be written: " + wrong);
  rest(row, seconds{0}, Effect::none, wrong);
}

void Deliverer::check_then_send(const Write& row) {
  hooks_.before_send(row, [this, row](const Leave& leave) {
    if (leave.kind == Leave::Kind::go) {
      hooks_.calm("held " + row.case_key);
      return send(row);
    }
    if (leave.kind == Leave::Kind::later) return rest(row, seconds{0}, Effect::none, leave.why);
    if (leave.kind == Leave::Kind::gone) return met_another_writer(row, leave.why, true);
    landed(row.id);
    const auto kept = store_.hold_write(row.id, leave.why, clock_.now());
    if (kept.has_error() && kept.error().kind == store::ErrorKind::logic) return;  // superseded while the patient was read
    if (failed(kept, "holding a write")) return;
    log_.error(fmt::format("{}: write {} is held: {}", row.case_key, row.sequence, leave.why));
    hooks_.alarm("held " + row.case_key, fmt::format("{}: writing is held: {}", row.case_key, leave.why));
    hooks_.held(row, leave);
  });
}

void Deliverer::send(const Write& row) {
  const auto marked = store_.mark_sent(row.id, clock_.now());
  if (marked.has_error() && marked.error().kind == store::ErrorKind::logic) return landed(row.id);  // superseded while the patient was read
  if (failed(marked, "marking a write as under way")) return;
  if (row.kind == store::WriteKind::transaction && hooks_.in_steps && hooks_.in_steps(row)) return send_in_steps(row);
  const WriteTarget target = target_from(row.target);
  transport::OutgoingRequest request;
  request.method = target.method;
  request.url = options_.base_url + (target.path.empty() ? "" : "/" + target.path);
  request.headers.add("Content-Type", "application/fhir+json");
  request.headers.add("Accept", "application/fhir+json");
  request.headers.add("Prefer", "return=representation");
  request.headers.add("X-Request-Id", fmt::format("{}-{}-{}", row.id, row.sequence, row.attempts + 1));
  for (const auto& header : target.headers) request.headers.add(header.name, header.value);
  request.body = row.body;
  request.timeout = options_.timeout;
  network_->send(std::move(request), [this, alive = std::weak_ptr<Alive>(alive_), row](transport::Outcome outcome) {
    if (!alive.lock()) return;
    back([this, row, outcome = std::move(outcome)] {
      if (const auto* response = std::get_if<Response>(&outcome)) return answered(row, *response);
      not_answered(row, std::get<Failure>(outcome));
    });
  });
}

void Deliverer::send_in_steps(const Write& row) {
  hooks_.write_in_steps(row, [this, alive = std::weak_ptr<Alive>(alive_), row](const StepsEnd& end) {
    if (alive.lock()) steps_ended(row, end);
  });
}

void Deliverer::steps_ended(const Write& row, const StepsEnd& end) {
  const bool denied = end.kind == StepsEnd::Kind::refused || end.response.status == 401 || end.response.status == 403;
  const bool of_a_clash = end.why.starts_with("POST DetectedIssue");
  if (denied && of_a_clash && hooks_.set_aside && hooks_.set_aside(row, end.why)) return met_another_writer(row, end.why, end.changed);
  switch (end.kind) {
    case StepsEnd::Kind::done: return settle_delivered(row, end.response);
    case StepsEnd::Kind::conflict: return met_another_writer(row, end.why, end.changed);
    case StepsEnd::Kind::put_off:
      if (end.response.status == 401 || end.response.status == 403) hooks_.alarm("access", "the record refuses our access: " + for_log(end.why));
      return rest(row, end.at_least, end.changed ? Effect::unknown : Effect::none, end.why);
    case StepsEnd::Kind::refused: break;
  }
  if (!end.changed) return give_up(row, end.why);
  hooks_.alarm("refused " + row.case_key, fmt::format("{}: the record refused a part of write {}: {}", row.case_key, row.sequence, for_log(end.why)));
  met_another_writer(row, end.why, true);
}

void Deliverer::met_another_writer(const Write& row, const std::string& why, bool partly) {
  landed(row.id);
  const auto superseded = store_.supersede_write(row.id, why, clock_.now());
  if (superseded.has_error() && superseded.error().kind == store::ErrorKind::logic) return;  // by a newer plan, while the record was asked
  if (failed(superseded, "superseding a write")) return;
  const int in_a_row = ++conflicts_[row.case_key];
  log_.warn(fmt::format("{}: write {} met another writer (conflict {} in a row{}); reading again", row.case_key, row.sequence, in_a_row, partly ? ", a part of it stands" : ""));
  hooks_.conflict(row, in_a_row, partly);
}

void Deliverer::give_up(const Write& row, const std::string& why) {
  landed(row.id);
  log_.error(fmt::format("{}: write {} is given up: {}", row.case_key, row.sequence, for_log(why)));
  hooks_.alarm("refused " + row.case_key, fmt::format("{}: the record refused write {}: {}", row.case_key, row.sequence, for_log(why)));
  (void)failed(store_.kill_write(row.id, why, clock_.now()), "giving a write up");
}

void Deliverer::answered(const Write& row, const Response& response) {
  if (response.status >= 200 && response.status < 300) return settle_delivered(row, response);
  refused(row, response);
}

void Deliverer::settle_delivered(const Write& row, const Response& response) {
  const auto done = store_.transaction(clock_.now(), [&](store::Store& store) -> store::Result<void> {
    if (auto kept = hooks_.delivered(store, row, response); kept.has_error()) return kept;
    return store.mark_delivered(row.id, response.body, clock_.now());
  });
  if (done.has_error() && done.error().kind == store::ErrorKind::logic) {  // a 2xx that is no answer to what was sent: a proxy's page, say
    hooks_.alarm("answer " + row.case_key, fmt::format("{}: the record answered {} with something that is no FHIR answer; what it did is looked up: {}", row.case_key, response.status, done.error().text));
    return rest(row, options_.settle_unknown, Effect::unknown, done.error().text);
  }
  landed(row.id);
  if (failed(done, "taking in the record's answer")) return;
  conflicts_.erase(row.case_key);
  tries_.erase(row.case_key);
  for (const char* topic : {"conflict ", "answer ", "refused "}) hooks_.calm(topic + row.case_key);
  hooks_.calm("access");
  log_.info(fmt::format("{}: write {} is in the record ({})", row.case_key, row.sequence, response.status));
  hooks_.after_delivered(row);
}

void Deliverer::refused(const Write& row, const Response& response) {
  const int status = response.status;
  const std::string why = said_by_record(response);
  const bool plain_refusal = status < 500 && status != 408 && status != 409 && status != 412 && status != 429;
  if (plain_refusal && hooks_.set_aside && hooks_.set_aside(row, why)) return met_another_writer(row, why, false);
  const bool gone = (status == 404 || status == 410) && row.kind == store::WriteKind::transaction;  // what it was to change is not there
  if (status == 409 || status == 412 || gone) return met_another_writer(row, why, false);
  if (status == 429 || status == 503) return rest(row, transport::retry_after(response), Effect::none, why);
  if (status == 401 || status == 403) {
    hooks_.alarm("access", "the record refuses our access: " + for_log(why));
    return rest(row, seconds{60}, Effect::none, why);
  }
  if (status >= 500 || status == 408) return rest(row, options_.settle_unknown, Effect::unknown, why);
  give_up(row, why);
}

void Deliverer::not_answered(const Write& row, const Failure& failure) {
  const std::string why = "no answer: " + failure.text;
  if (!transport::may_have_arrived(failure.kind)) return rest(row, seconds{0}, Effect::none, why);
  rest(row, options_.settle_unknown, Effect::unknown, why);
}

void Deliverer::verify(const Write& row) {
  hooks_.look_up(row, [this, row](std::optional<bool> applied, const Response& as_answered) {
    if (!applied) return rest(row, seconds{0}, Effect::unknown, "the record could not be asked what became of it");
    if (*applied) return settle_delivered(row, as_answered);
    landed(row.id);
    log_.info(fmt::format("{}: write {} had no effect; sent again", row.case_key, row.sequence));
    if (failed(store_.verified_absent(row.id, clock_.now(), clock_.now()), "putting a write back in the queue")) return;
    back([this] { run(); });
  });
}

nanoseconds Deliverer::backoff(std::int64_t attempts) {
  const auto doublings = std::min<std::int64_t>(attempts, 16);
  const auto span = std::min(options_.first_backoff * (std::int64_t{1} << doublings), options_.longest_backoff);
  const auto jitter = static_cast<double>(random_.next() % 1000) / 1000.0;  // half to whole of the span
  return nanoseconds{static_cast<std::int64_t>(static_cast<double>(nanoseconds(span).count()) * (0.5 + jitter / 2))};
}

void Deliverer::rest(const Write& row, nanoseconds at_least, Effect effect, const std::string& why) {
  landed(row.id);
  const auto put_off = store_.retry_later(row.id, clock_.now(), why, effect, clock_.now());
  if (put_off.has_error() && put_off.error().kind == store::ErrorKind::logic) {  // a newer plan has taken its place meanwhile
    const auto stands = store_.write(row.id);
    if (stands.has_value() && *stands && (*stands)->state == store::WriteState::superseded) return back([this] { run(); });
  }
  if (failed(put_off, "putting a write off")) return;
  // What fails before anything is sent counts as well: a record that lets nobody in is not asked every second.
  const nanoseconds span = std::max(at_least, backoff(std::max(row.attempts, tries_[row.case_key]++)));
  log_.warn(fmt::format("{}: write {} is tried again in {} s: {}", row.case_key, row.sequence, std::chrono::duration_cast<seconds>(span).count(), for_log(why)));
  resting_[row.id] = timers_.after(span, [this, alive = std::weak_ptr<Alive>(alive_), id = row.id] {
    if (!alive.lock()) return;
    back([this, id] {
      resting_.erase(id);
      run();
    });
  });
}

}  // namespace app
