#include "app/printing.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/case_notes.h"

namespace app {

using print::JobState;
using print::Known;
using print::Trouble;
using std::chrono::milliseconds;
using std::chrono::seconds;
using std::chrono::steady_clock;
using store::PrintId;
using store::PrintOrder;
using store::PrintState;

namespace {

constexpr milliseconds kSoon{500};      // between two looks at a job that goes on
constexpr milliseconds kTrouble{2000};  // at a printer in trouble
constexpr milliseconds kLongTrouble{10000};  // in trouble for more than a minute
constexpr std::int64_t kForgotten = 24 * 3600;  // after so many seconds nobody waits for a silent printer to give back a sheet that nobody wants
constexpr seconds kSettled{4};          // a connection that broke may still bring a job forth for so long
constexpr std::int64_t kAttempts = 4;   // of an order that printers give up

bool has(const std::vector<std::string>& all, std::string_view word) { return std::ranges::find(all, word) != all.end(); }

}  // namespace

namespace {
bool is_ours(const std::optional<print::Job>& job, const std::string& name) { return job && (job->name.empty() || job->name == name); }
}  // namespace

Millis real_millis() { return std::chrono::duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch()).count(); }

struct Printing::Alive {};

/// What a look at a job that was sent gave; the printer is asked for its reasons only where the job has not ended.
struct Printing::Seen {
  print::Answer<std::optional<print::Job>> job;
  std::optional<print::PrinterState> printer{};
};

Printing::Printing(store::Store& store, PlanClock& clock, Executor& executor, transport::Timers& timers, SideThreads& threads, const Rules& rules, Log& log,
                   PrintingHooks hooks)
    : store_(store), clock_(clock), executor_(executor), timers_(timers), threads_(threads), rules_(rules), print_(*rules.configuration.print), log_(log),
      hooks_(std::move(hooks)), media_(print::media_named(rules.configuration.site.paper)), alive_(std::make_shared<Alive>()) {
  patience_.answer = seconds{print_.answer_seconds};
  patience_.connect = std::min(patience_.connect, patience_.answer);
}

Printing::~Printing() {
  for (const auto& [id, watch] : watches_) timers_.cancel(watch.timer);
}

std::function<void()> Printing::guarded(std::function<void()> work) {
  return [alive = std::weak_ptr<Alive>(alive_), work = std::move(work)] {
    if (alive.lock()) work();
  };
}

void Printing::rest(PrintId id, milliseconds time) {
  Watch& watch = watches_[id];
  watch.busy = false;
  watch.resting = true;
  timers_.cancel(watch.timer);
  watch.timer = timers_.after(time, [&executor = executor_, then = guarded([this, id] {
                                       watches_[id].resting = false;
                                       run();
                                     })] { executor.post(then); });
}

void Printing::on_printer(PrintId id, const std::string& uri, std::function<std::function<void()>()> work) {
  watches_[id].busy = true;
  threads_.run(uri, std::move(work));
}

void Printing::run() {
  auto orders = store_.open_prints();
  if (failed(orders, "looking for sheets to print")) return;
  std::ranges::stable_sort(*orders, [](const PrintOrder& a, const PrintOrder& b) { return a.is_void && !b.is_void; });
  std::set<PrintId> open;
  std::set<std::string> asked;
  for (const PrintOrder& one : *orders) {
    open.insert(one.id);
    if (one.asked_at > 0 && one.wanted) asked.insert("print " + one.case_key);
  }
  std::erase_if(watches_, [&](auto& entry) {
    if (open.contains(entry.first) || entry.second.busy) return false;
    timers_.cancel(entry.second.timer);
    return true;
  });
  for (const std::string& topic : alarmed_)
    if (!asked.contains(topic)) hooks_.calm(topic);
  std::erase_if(alarmed_, [&](const std::string& topic) { return !asked.contains(topic); });
  for (const PrintOrder& one : *orders) {
    if (one.asked_at > 0 && one.wanted && alarmed_.insert("print " + one.case_key).second)
      hooks_.alarm("print " + one.case_key, fmt::format("{}: sheet {}{} is not on paper: {}; a person is asked", one.case_key, one.sheet, one.is_void ? " (VOID)" : "", one.reason));
    const Watch& watch = watches_[one.id];
    if (!watch.busy && !watch.resting) step(one);
  }
}

void Printing::step(const PrintOrder& one) {
  if (one.state == PrintState::queued) prepare(one);
  else if (one.state == PrintState::sending) search(one);
  else if (one.state == PrintState::sent) follow(one);
}

QueueChoice Printing::queue_of(const PrintOrder& one) {
  const auto row = store_.case_of(one.case_key);
  if (failed(row, "reading where a patient lies") || !*row) return {};
  return queue_for(print_, notes_of(**row).places);
}

std::string Printing::uri_of(const PrintOrder& one, int route) {
  const auto choice = queue_of(one);
  return route == 0 ? choice.queue.uri : choice.queue.second_uri;
}

std::string Printing::name_of_printer(const std::string& uri) const {
  const auto in = [&](const profile::Configuration::Queue& queue) { return queue.uri == uri ? queue.name : queue.second_uri == uri ? queue.second_name : std::string(); };
  for (const auto& unit : print_.units)
    if (const auto name = in(unit.queue); !name.empty()) return name;
  const auto name = in(print_.facility);
  return name.empty() ? uri : name;
}

std::optional<PrintOrder> Printing::order(PrintId id, PrintState expected) {
  watches_[id].busy = false;
  const auto now = store_.print_order(id);
  if (failed(now, "reading a print order") || !*now || (*now)->state != expected) return std::nullopt;
  return **now;
}

void Printing::note_answer(const std::string& uri, Trouble trouble) { printers_[uri] = trouble; }

bool Printing::too_long(const std::optional<Steady>& since, std::int64_t limit) const { return since && steady_clock::now() - *since >= seconds{limit}; }

// ---- at no printer yet

void Printing::prepare(const PrintOrder& one) {
  const auto row = store_.case_of(one.case_key);
  if (failed(row, "reading a case")) return;
  if (!*row || (*row)->sheet_count != one.sheet) {  // made while printing was off: what hangs there is older still, and a sheet of then is no sheet of now
    log_.info(fmt::format("{}: sheet {} is not printed: a newer one was made", one.case_key, one.sheet));
    return (void)failed(store_.print_drop(one.id, "a newer sheet was made", clock_.now()), "ending a print order");
  }
  const QueueChoice choice = queue_of(one);
  if (choice.queue.uri.empty()) {
    if (choice.unknown) return ask(one, "no-printer", true);
    log_.info(fmt::format("{}: sheet {} is not printed: the place where the patient lies has no printer", one.case_key, one.sheet));
    return (void)failed(store_.print_drop(one.id, "the place has no printer", clock_.now()), "ending a print order");
  }
  Watch& watch = watches_[one.id];
  if (watch.route == 1 && choice.queue.second_uri.empty()) watch.route = 0;
  const std::string uri = watch.route == 0 ? choice.queue.uri : choice.queue.second_uri;
  on_printer(one.id, uri, [this, id = one.id, uri, patience = patience_, alive = std::weak_ptr<Alive>(alive_)] {
    auto answer = print::ask(uri, patience);
    return std::function<void()>([this, id, uri, alive, answer = std::move(answer)] {
      if (alive.lock()) prepared(id, uri, answer);
    });
  });
}

void Printing::prepared(PrintId id, const std::string& uri, const print::Answer<print::PrinterState>& answer) {
  const Trouble trouble = answer.has_error() ? answer.error().trouble : print::before_sending(*answer, media_);
  note_answer(uri, trouble);
  const auto one = order(id, PrintState::queued);
  if (!one) return;
  if (uri_of(*one, watches_[id].route) != uri) return step(*one);  // the patient was moved meanwhile
  if (trouble != Trouble::none) return waits(*one, trouble);
  send(*one, uri, *answer);
}

/// The printer can: on disk first, then one more look whether a job of this name is there (an older store put back), then the bytes.
void Printing::send(const PrintOrder& one, const std::string& uri, const print::PrinterState& state) {
  const auto pdf = store_.blob(one.document);
  if (failed(pdf, "reading a sheet") || !*pdf) return;
  const print::Wish wish{fmt::format("sheet-{}-{}-{}-{}-{}", one.sheet, one.document.substr(0, 12), rules_.installation, one.id, one.attempts + 1), media_, one.is_void};
  if (failed(store_.print_sending(one.id, uri, wish.name, real_millis(), clock_.now()), "marking a sheet as under way")) return;
  on_printer(one.id, uri, [this, id = one.id, uri, wish, pdf = **pdf, state, patience = patience_, alive = std::weak_ptr<Alive>(alive_)] {
    const auto before = print::find(uri, wish.name, patience);
    print::Answer<int> sent = print::Failure{Known::not_sent, false, Trouble::no_answer, ""};
    if (before.has_error()) sent = print::Failure{Known::not_sent, before.error().answered, before.error().trouble, before.error().text};
    else if (before->job) sent = before->job->id;
    else sent = print::submit(uri, wish, pdf, state, patience);
    return std::function<void()>([this, id, alive, sent = std::move(sent)] {
      if (alive.lock()) handed(id, sent);
    });
  });
}

void Printing::handed(PrintId id, const print::Answer<int>& sent) {
  const auto one = order(id, PrintState::sending);
  if (!one) return;
  if (sent.has_value()) {
    if (failed(store_.print_sent(id, *sent, clock_.now()), "noting that a printer has a sheet")) return;
    log_.info(fmt::format("{}: sheet {} is at {} as job {}", one->case_key, one->sheet, name_of_printer(one->printer), *sent));
    watches_[id].in_trouble.reset();
    watches_[id].sent = steady_clock::now();
    return rest(id, kSoon);
  }
  note_answer(one->printer, sent.error().trouble);
  if (sent.error().known == Known::unknown) {
    log_.warn(fmt::format("{}: sheet {} may have reached {}: {}; looked up before it is sent again", one->case_key, one->sheet, name_of_printer(one->printer), sent.error().text));
    return rest(id, kTrouble);
  }
  back_to_queue(*one, sent.error().text);
  if (const auto again = order(id, PrintState::queued)) waits(*again, sent.error().trouble);
}

void Printing::back_to_queue(const PrintOrder& one, const std::string& why) {
  log_.warn(fmt::format("{}: sheet {} did not come out at {}: {}", one.case_key, one.sheet, name_of_printer(one.printer), why));
  (void)failed(store_.print_again(one.id, why, clock_.now()), "putting a sheet back to be printed");
}

/// A printer cannot, and has nothing of ours: the other one is tried, and after some time a person.
void Printing::waits(const PrintOrder& one, Trouble trouble) {
  Watch& watch = watches_[one.id];
  const auto now = steady_clock::now();
  if (!watch.in_trouble) watch.in_trouble = now;
  if (!watch.without_paper) watch.without_paper = now;
  watch.troubles[watch.route] = trouble;
  const bool has_second = !uri_of(one, 1).empty();
  const bool tried_both = !has_second || watch.troubles.size() > 1;
  if (person_is_due(one) && tried_both) ask(one, word_of(trouble), false);
  if (has_second && (one.is_void || watch.troubles.size() > 1 || too_long(watch.in_trouble, print_.reroute_seconds))) {
    watch.route = 1 - watch.route;
    if (watch.troubles.size() < 2 || watch.route == 1) return rest(one.id, milliseconds{10});
  }
  rest(one.id, pause(watch));
}

milliseconds Printing::pause(const Watch& watch) const { return too_long(watch.without_paper, 60) ? kLongTrouble : kTrouble; }

bool Printing::person_is_due(const PrintOrder& one) {
  const Watch& watch = watches_[one.id];
  return one.is_void ? watch.without_paper.has_value() : too_long(watch.without_paper, print_.person_seconds);
}

// ---- may have left

void Printing::search(const PrintOrder& one) {
  if (one.printer.empty() || one.job_name.empty()) return ask(one, "uncertain", true);  // an older store put back: what was queued in it may be out long since
  on_printer(one.id, one.printer, [this, id = one.id, uri = one.printer, name = one.job_name, patience = patience_, alive = std::weak_ptr<Alive>(alive_)] {
    auto found = print::find(uri, name, patience);
    return std::function<void()>([this, id, alive, found = std::move(found)] {
      if (alive.lock()) searched(id, found);
    });
  });
}

void Printing::searched(PrintId id, const print::Answer<print::Search>& found) {
  const auto one = order(id, PrintState::sending);
  if (!one) return;
  Watch& watch = watches_[id];
  if (found.has_error()) {
    note_answer(one->printer, found.error().trouble);
    if (!watch.without_paper) watch.without_paper = steady_clock::now();
    watch.troubles[watch.route] = found.error().trouble;
    if (!one->wanted && too_long(watch.without_paper, kForgotten)) return ask(*one, "uncertain", true);
    if (person_is_due(*one)) ask(*one, "uncertain", false);
    return rest(id, pause(watch));
  }
  if (found->job) {
    if (failed(store_.print_sent(id, found->job->id, clock_.now()), "noting that a printer has a sheet")) return;
    log_.info(fmt::format("{}: sheet {} had reached {} as job {}", one->case_key, one->sheet, name_of_printer(one->printer), found->job->id));
    return rest(id, milliseconds{1});
  }
  const seconds age{(real_millis() - one->sent_real + 999) / 1000};
  if (!print::surely_absent(*found, age)) return ask(*one, "uncertain", true);
  if (age < kSettled) return rest(id, kSettled - age + kSoon);
  back_to_queue(*one, "the printer has no such job");
  rest(id, milliseconds{1});
}

// ---- at a printer

void Printing::follow(const PrintOrder& one) {
  on_printer(one.id, one.printer, [this, id = one.id, uri = one.printer, job = static_cast<int>(one.job), patience = patience_, alive = std::weak_ptr<Alive>(alive_)] {
    Seen seen{print::look(uri, job, patience)};
    if (seen.job.has_value() && *seen.job && !print::ended((*seen.job)->state)) {
      if (auto state = print::ask(uri, patience); state.has_value()) seen.printer = std::move(*state);
    }
    return std::function<void()>([this, id, alive, seen = std::move(seen)] {
      if (alive.lock()) followed(id, seen);
    });
  });
}

void Printing::followed(PrintId id, const Seen& seen) {
  const auto one = order(id, PrintState::sent);
  if (!one) return;
  if (seen.job.has_error()) {
    note_answer(one->printer, seen.job.error().trouble);
    return stuck(*one, seen.job.error().trouble);
  }
  if (!is_ours(*seen.job, one->job_name)) return ask(*one, "uncertain", true);  // it has forgotten the job, or started anew and counts from 1 again
  const print::Job& job = **seen.job;
  if (print::ended(job.state)) return finished(*one, job);
  unfinished(*one, job, seen);
}

void Printing::finished(const PrintOrder& one, const print::Job& job) {
  Watch& watch = watches_[one.id];
  if (job.state == JobState::completed && !has(job.reasons, "job-completed-with-errors")) {
    note_answer(one.printer, Trouble::none);
    if (failed(store_.print_done(one.id, clock_.now()), "noting that a sheet was printed")) return;
    log_.info(fmt::format("{}: sheet {} was printed by {}", one.case_key, one.sheet, name_of_printer(one.printer)));
    if (one.asked_at > 0) hooks_.again(one.case_key, fmt::format("sheet {} was printed", one.sheet));
    return run();
  }
  if (job.state == JobState::completed) return ask(one, word_of(Trouble::aborted), true);
  if (job.state == JobState::cancelled && !watch.cancelling && one.wanted) return ask(one, word_of(Trouble::cancelled), true);  // somebody wants no more of it there
  if (job.state == JobState::aborted && one.wanted && one.attempts >= kAttempts) return ask(one, word_of(Trouble::aborted), true);
  back_to_queue(one, job.state == JobState::aborted ? "the printer gave the job up" : "the job was taken back");
  if (!watch.without_paper) watch.without_paper = steady_clock::now();
  if (job.state == JobState::aborted) watch.troubles[watch.route] = Trouble::aborted;
  if (!uri_of(one, 1).empty()) watch.route = 1 - watch.route;
  watch.cancelling = false;
  watch.in_trouble.reset();
  rest(one.id, kSoon);
}

void Printing::unfinished(const PrintOrder& one, const print::Job& job, const Seen& seen) {
  Watch& watch = watches_[one.id];
  if (!watch.sent) watch.sent = steady_clock::now();  // before the last start
  if ((watch.cancelling || !one.wanted) && has(job.reasons, "processing-to-stop-point")) {
    print::Job taken = job;  // the printer has given its word; it may stand in front of an empty tray for hours before it says "cancelled"
    taken.state = JobState::cancelled;
    watch.cancelling = true;
    return finished(one, taken);
  }
  if (!one.wanted || watch.cancelling) cancel(one);
  Trouble trouble = job.state == JobState::held ? Trouble::held : print::trouble_in(job.reasons);
  if (trouble == Trouble::none && seen.printer) {
    trouble = print::trouble_in(seen.printer->reasons);
    if (trouble == Trouble::none && seen.printer->stopped) trouble = Trouble::stopped;
    note_answer(one.printer, trouble);
  }
  // A printer that says nothing and prints nothing is in trouble as well, once it has had its time.
  if (trouble == Trouble::none && !too_long(watch.sent, std::max<std::int64_t>(print_.reroute_seconds, 60))) return rest(one.id, kSoon);
  stuck(one, trouble == Trouble::none ? Trouble::other : trouble);
}

/// The printer has the job and no paper comes out: if the other printer is well the job is taken back, and after some time a person is asked.
void Printing::stuck(const PrintOrder& one, Trouble trouble) {
  Watch& watch = watches_[one.id];
  const auto now = steady_clock::now();
  if (!watch.in_trouble) watch.in_trouble = now;
  if (!watch.without_paper) watch.without_paper = now;
  watch.troubles[watch.route] = trouble;
  const std::string other = uri_of(one, one.printer == uri_of(one, 0) ? 1 : 0);
  const bool late = one.is_void || too_long(watch.in_trouble, print_.reroute_seconds);
  if (one.wanted && late && !watch.cancelling && !other.empty() && other != one.printer && trouble != Trouble::no_answer) return look_at_the_other(one, other);
  if (!one.wanted && too_long(watch.without_paper, kForgotten)) return ask(one, "uncertain", true);
  if (one.wanted && person_is_due(one)) ask(one, word_of(trouble), false);
  rest(one.id, pause(watch));
}

void Printing::look_at_the_other(const PrintOrder& one, const std::string& uri) {
  on_printer(one.id, uri, [this, id = one.id, uri, patience = patience_, alive = std::weak_ptr<Alive>(alive_)] {
    auto answer = print::ask(uri, patience);
    return std::function<void()>([this, id, uri, alive, answer = std::move(answer)] {
      if (!alive.lock()) return;
      const Trouble trouble = answer.has_error() ? answer.error().trouble : print::before_sending(*answer, media_);
      note_answer(uri, trouble);
      const auto now = order(id, PrintState::sent);
      if (!now) return;
      Watch& watch = watches_[id];
      watch.troubles[1 - watch.route] = trouble;
      if (trouble == Trouble::none) {
        watch.troubles.erase(1 - watch.route);
        watch.cancelling = true;
        cancel(*now);
        return rest(id, kSoon);
      }
      if (person_is_due(*now)) ask(*now, word_of(watch.troubles[watch.route]), false);
      rest(id, kTrouble);
    });
  });
}

void Printing::cancel(const PrintOrder& one) {
  threads_.run(one.printer, [uri = one.printer, job = static_cast<int>(one.job), name = one.job_name, patience = patience_] {
    const auto there = print::look(uri, job, patience);
    if (there.has_value() && is_ours(*there, name)) (void)print::cancel(uri, job, patience);  // what became of it is seen when the job is looked at
    return std::function<void()>();
  });
}

void Printing::take_back(const PrintOrder& one) {
  if (one.state == PrintState::sent) cancel(one);
}

// ---- people

void Printing::ask(const PrintOrder& one, std::string_view trouble, bool give_up) {
  Watch& watch = watches_[one.id];
  std::vector<PrinterSays> says;
  if (trouble == "no-printer") {
    says.push_back({"", std::string(trouble)});
  } else if (one.state == PrintState::queued) {
    for (const auto& [route, seen] : watch.troubles) says.push_back({name_of_printer(uri_of(one, route)), std::string(word_of(seen))});
  } else {
    says.push_back({one.printer.empty() ? queue_of(one).queue.name : name_of_printer(one.printer), std::string(trouble)});
  }
  const std::string text = text_of(says);
  if (!give_up && one.asked_at > 0 && one.ask == text) return;
  const std::string reason = fmt::format("{}: {}", says.front().printer, says.front().trouble);
  if (failed(store_.print_ask(one.id, text, give_up, reason, clock_.now()), "noting that a person is asked for a sheet")) return;
  if (!one.wanted) return;
  log_.error(fmt::format("{}: sheet {} is not on paper ({}); a person is asked", one.case_key, one.sheet, reason));
  hooks_.again(one.case_key, fmt::format("sheet {} is not on paper", one.sheet));
}

report::Status::Printing Printing::status() {
  report::Status::Printing s;
  if (const auto c = store_.print_counts(); c.has_value())
    s.ordered = c->ordered, s.waiting = c->waiting, s.at_printer = c->at_printer, s.printed = c->printed, s.superseded = c->superseded, s.asked = c->asked, s.by_hand = c->by_hand;
  const auto add = [&](const std::string& uri) {
    if (uri.empty() || std::ranges::any_of(s.printers, [&](const auto& one) { return one.address == uri; })) return;
    const auto seen = printers_.find(uri);
    const std::string state = seen == printers_.end() ? "not asked yet" : seen->second == Trouble::none ? "well" : std::string(word_of(seen->second));
    s.printers.push_back({name_of_printer(uri), uri, state});
  };
  add(print_.facility.uri);
  add(print_.facility.second_uri);
  for (const auto& unit : print_.units) add(unit.queue.uri), add(unit.queue.second_uri);
  constexpr std::array words{"queued", "sending", "sent", "printed", "superseded", "asked", "by-hand"};
  const auto open = store_.open_prints();
  if (open.has_error()) return s;
  for (const PrintOrder& one : *open)
    s.open.push_back({one.case_key, one.sheet, one.is_void, words.at(static_cast<std::size_t>(one.state)), one.printer.empty() ? "" : name_of_printer(one.printer), one.reason, one.asked_at > 0});
  return s;
}

}  // namespace app
