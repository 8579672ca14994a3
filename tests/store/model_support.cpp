#include "store/model_support.h"

#include <algorithm>

#include "store/store_support.h"

using namespace store;

namespace store_test {

namespace {
constexpr Millis always = 1'000'000;  // later than every next_attempt_at
constexpr auto kUnsettled = {WriteState::queued, WriteState::sent, WriteState::verify, WriteState::held};

bool valid(std::int64_t id, std::size_t count) { return id >= 1 && static_cast<std::size_t>(id) <= count; }
}  // namespace

bool Model::append(Millis at) {
  events_.push_back({at, EventState::pending, Mark::none});
  return true;
}

bool Model::settle(EventId id, EventState to, Mark mark) {
  if (!valid(id, events_.size()) || to == EventState::pending || (mark != Mark::none && to != EventState::dead)) return false;
  Event& e = events_[static_cast<std::size_t>(id - 1)];
  if (e.state != EventState::pending) return false;
  e.state = to;
  e.mark = mark;
  return true;
}

Model::Event* Model::dead_event(EventId id) {
  if (!valid(id, events_.size())) return nullptr;
  Event& e = events_[static_cast<std::size_t>(id - 1)];
  return e.state == EventState::dead && e.mark != Mark::discarded ? &e : nullptr;
}

bool Model::retry_event(EventId id) {
  Event* e = dead_event(id);
  if (e != nullptr) *e = {e->received_at, EventState::pending, Mark::none};
  return e != nullptr;
}

bool Model::discard_event(EventId id) {
  Event* e = dead_event(id);
  if (e != nullptr) e->mark = Mark::discarded;
  return e != nullptr;
}

Model::Write* Model::write_in(WriteId id, std::initializer_list<WriteState> states) {
  if (!valid(id, writes_.size())) return nullptr;
  Write& w = writes_[static_cast<std::size_t>(id - 1)];
  return std::find(states.begin(), states.end(), w.state) != states.end() && w.mark == Mark::none ? &w : nullptr;
}

bool Model::queue(const NewWrite& asked) {
  Write w;
  w.asked = asked;
  w.sequence = 1 + std::count_if(writes_.begin(), writes_.end(), [&](const Write& other) { return other.asked.case_key == asked.case_key; });
  writes_.push_back(w);
  return true;
}

bool Model::mark_sent(WriteId id) {
  Write* w = write_in(id, {WriteState::queued, WriteState::verify});
  if (w == nullptr || w->asked.shadow) return false;
  w->state = WriteState::sent;
  ++w->open_attempts;
  return true;
}

bool Model::mark_delivered(WriteId id) {
  Write* w = write_in(id, {WriteState::queued, WriteState::sent, WriteState::verify});
  if (w == nullptr || (w->state == WriteState::queued && !w->asked.shadow)) return false;
  w->state = WriteState::delivered;
  return true;
}

bool Model::back_to_queue(Write* w, Millis at) {
  if (w == nullptr) return false;
  w->state = w->open_attempts > 0 ? WriteState::verify : WriteState::queued;
  w->asked.next_attempt_at = at;
  return true;
}

bool Model::retry_later(WriteId id, Millis at, Effect effect) {
  Write* w = write_in(id, {WriteState::queued, WriteState::sent, WriteState::verify});
  if (w != nullptr && w->state == WriteState::sent && effect == Effect::none) --w->open_attempts;
  return back_to_queue(w, at);
}

bool Model::verified_absent(WriteId id, Millis at) {
  Write* w = write_in(id, {WriteState::verify});
  if (w != nullptr) w->open_attempts = 0;
  return back_to_queue(w, at);
}

bool Model::hold(WriteId id) {
  Write* w = write_in(id, {WriteState::queued, WriteState::sent, WriteState::verify});
  if (w != nullptr) w->state = WriteState::held;
  return w != nullptr;
}

bool Model::release(WriteId id, Millis at) { return back_to_queue(write_in(id, {WriteState::held}), at); }

bool Model::supersede_unsent(const std::string& case_key) {
  for (Write& w : writes_) {
    const bool waits = w.state == WriteState::queued || w.state == WriteState::held;
    if (waits && w.open_attempts == 0 && w.asked.case_key == case_key) w.state = WriteState::superseded;
  }
  return true;
}

bool Model::supersede(WriteId id) {
  Write* w = write_in(id, kUnsettled);
  if (w != nullptr) w->state = WriteState::superseded;
  return w != nullptr;
}

bool Model::kill(WriteId id) {
  Write* w = write_in(id, kUnsettled);
  if (w != nullptr) w->state = WriteState::dead;
  return w != nullptr;
}

bool Model::retry_write(WriteId id, Millis at) { return back_to_queue(write_in(id, {WriteState::dead}), at); }

bool Model::discard_write(WriteId id) {
  Write* w = write_in(id, {WriteState::dead});
  if (w != nullptr) w->mark = Mark::discarded;
  return w != nullptr;
}

bool Model::recover_interrupted() {
  for (Write& w : writes_) {
    if (w.state == WriteState::sent) w.state = WriteState::verify;
  }
  return true;
}

// Of each case the first that is not settled, if nothing of the case is in flight and it is not held.
std::vector<WriteId> Model::deliverable(Millis now) const {
  std::vector<WriteId> ids;
  for (std::size_t i = 0; i < writes_.size(); ++i) {
    const Write& w = writes_[i];
    if (w.asked.shadow || (w.state != WriteState::queued && w.state != WriteState::verify) || w.asked.next_attempt_at > now) continue;
    const auto blocks = [&](const Write& other) {
      return !other.asked.shadow && other.asked.case_key == w.asked.case_key && other.unsettled() &&
             (other.sequence < w.sequence || other.state == WriteState::sent);
    };
    if (std::none_of(writes_.begin(), writes_.end(), blocks)) ids.push_back(static_cast<WriteId>(i + 1));
  }
  return ids;
}

std::int64_t Model::events_in(EventState state) const {
  return std::count_if(events_.begin(), events_.end(), [&](const Event& e) { return e.state == state; });
}

std::int64_t Model::writes_in(WriteState state, bool shadow) const {
  return std::count_if(writes_.begin(), writes_.end(), [&](const Write& w) { return w.state == state && w.asked.shadow == shadow; });
}

void Model::compare_events(Store& db) const {
  const auto ledger = must(db.event_ledger());
  EXPECT_TRUE(ledger.closes());
  EXPECT_EQ(ledger.received, static_cast<std::int64_t>(events_.size()));
  EXPECT_EQ(ledger.applied, events_in(EventState::applied));
  EXPECT_EQ(ledger.irrelevant, events_in(EventState::irrelevant));
  EXPECT_EQ(ledger.pending, events_in(EventState::pending));
  EXPECT_EQ(ledger.dead, events_in(EventState::dead));
  const auto marked = [&](Mark mark) { return std::count_if(events_.begin(), events_.end(), [&](const Event& e) { return e.mark == mark; }); };
  EXPECT_EQ(ledger.quarantined, marked(Mark::quarantined));
  EXPECT_EQ(ledger.discarded, marked(Mark::discarded));
  const auto oldest = std::find_if(events_.begin(), events_.end(), [](const Event& e) { return e.state == EventState::pending; });
  EXPECT_EQ(must(db.oldest_pending_event()), oldest == events_.end() ? std::nullopt : std::optional(oldest->received_at));
}

void Model::compare_ledger(Store& db, bool shadow) const {
  const auto ledger = must(db.write_ledger(shadow));
  EXPECT_TRUE(ledger.closes());
  EXPECT_EQ(ledger.queued, std::count_if(writes_.begin(), writes_.end(), [&](const Write& w) { return w.asked.shadow == shadow; }));
  EXPECT_EQ(ledger.waiting, writes_in(WriteState::queued, shadow));
  EXPECT_EQ(ledger.sent, writes_in(WriteState::sent, shadow));
  EXPECT_EQ(ledger.verify, writes_in(WriteState::verify, shadow));
  EXPECT_EQ(ledger.held, writes_in(WriteState::held, shadow));
  EXPECT_EQ(ledger.delivered, writes_in(WriteState::delivered, shadow));
  EXPECT_EQ(ledger.superseded, writes_in(WriteState::superseded, shadow));
  EXPECT_EQ(ledger.dead, writes_in(WriteState::dead, shadow));
}

void Model::compare_writes(Store& db) const {
  for (std::size_t i = 0; i < writes_.size(); ++i) {
    const auto there = must(db.write(static_cast<WriteId>(i + 1)));
    ASSERT_TRUE(there);
    EXPECT_EQ(there->state, writes_[i].state) << "write " << i + 1;
    EXPECT_EQ(there->sequence, writes_[i].sequence);
    EXPECT_EQ(there->body, writes_[i].asked.body);
  }
  for (const Millis now : {Millis{3}, always}) {
    std::vector<WriteId> ids;
    for (const auto& w : must(db.next_deliverable(now, 1000))) ids.push_back(w.id);
    std::sort(ids.begin(), ids.end());
    EXPECT_EQ(ids, deliverable(now)) << "at " << now;
  }
  std::optional<Millis> earliest, oldest;
  for (const WriteId id : deliverable(always)) {
    const Millis at = writes_[static_cast<std::size_t>(id - 1)].asked.next_attempt_at;
    earliest = std::min(at, earliest.value_or(at));
  }
  for (const Write& w : writes_) {
    if (w.unsettled() && !w.asked.shadow) oldest = std::min(w.asked.created_at, oldest.value_or(w.asked.created_at));
  }
  EXPECT_EQ(must(db.next_attempt()), earliest);
  EXPECT_EQ(must(db.oldest_pending_write()), oldest);
}

void Model::compare(Store& db) const {
  compare_events(db);
  compare_ledger(db, false);
  compare_ledger(db, true);
  compare_writes(db);
  must(db.verify_ledgers());
}

}  // namespace store_test
