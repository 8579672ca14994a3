#include "app/subscription_hearing.h"

#include <algorithm>
#include <charconv>
#include <sstream>

#include "fhir/digest.h"

namespace app {
namespace {

constexpr std::size_t kRemembered = 128;  // numbers by which a repeat is known
constexpr std::size_t kRanges = 64;       // more gaps than that become one

std::int64_t number(std::string_view text) {
  std::int64_t n = 0;
  std::from_chars(text.data(), text.data() + text.size(), n);
  return n;
}

void set_gaps(store::Subscription& row, std::vector<Range> gaps) {
  if (gaps.size() > kRanges) gaps = {{gaps.front().first, gaps.back().second}};
  row.gaps.clear();
  for (const auto& [first, last] : gaps) row.gaps += (row.gaps.empty() ? "" : " ") + std::to_string(first) + "-" + std::to_string(last);
}

/// The numbers heard last with their prints, oldest first: "7:ab 8:cd".
class Recent {
 public:
  explicit Recent(const std::string& text) {
    std::istringstream in(text);
    for (std::string one; in >> one;)
      if (const auto colon = one.find(':'); colon != std::string::npos) rows_.push_back({number(one.substr(0, colon)), one.substr(colon + 1)});
  }
  const Heard::Number* find(std::int64_t n) const {
    const auto found = std::ranges::find(rows_, n, &Heard::Number::n);
    return found == rows_.end() ? nullptr : &*found;
  }
  void add(const Heard::Number& one) {
    rows_.push_back(one);
    if (rows_.size() > kRemembered) rows_.erase(rows_.begin());
  }
  std::string text() const {
    std::string out;
    for (const auto& one : rows_) out += (out.empty() ? "" : " ") + std::to_string(one.n) + ":" + one.print;
    return out;
  }

 private:
  std::vector<Heard::Number> rows_;
};

class Listener {
 public:
  Listener(store::Subscription& row, bool asked, Fall& fall) : row_(row), asked_(asked), fall_(fall), gaps_(gaps_of(row)), recent_(row.recent) {}

  void take(const Heard::Number& one) {
    if (row_.last_number < 0) return move_to(one.n, one);  // the first that we hear of it: what was before is not known
    if (one.n > row_.last_number) {
      open(row_.last_number + 1, one.n - 1);
      return move_to(one.n, one);
    }
    if (fill(one.n)) return recent_.add(one);
    const auto* before = recent_.find(one.n);
    if (asked_ || (before && before->print == one.print)) return;  // a repeat
    if (!before && !falls_again(one.n, one.n > fall_.low)) return;
    count_anew(one.n);
    recent_.add(one);
  }

  /// Up to there the record has counted.
  void reach(std::int64_t total, bool surely) {
    if (total < row_.last_number) {
      if (surely || falls_again(total, total >= fall_.low)) count_anew(total);
      return;
    }
    if (total > row_.last_number && row_.last_number >= 0) open(row_.last_number + 1, total);
    row_.last_number = total;
    fall_.low = -1;
  }

  Hearing end() {
    set_gaps(row_, std::move(gaps_));
    row_.recent = recent_.text();
    return result_;
  }

 private:
  bool falls_again(std::int64_t n, bool goes_on) {
    const bool again = fall_.low >= 0 && goes_on;
    fall_.low = n;
    return again;
  }
  void move_to(std::int64_t n, const Heard::Number& one) {
    fall_.low = -1;
    row_.last_number = n;
    recent_.add(one);
  }
  void open(std::int64_t first, std::int64_t last) {
    if (first > last) return;
    gaps_.emplace_back(first, last);
    ++row_.gaps_opened;
    result_.gap_opened = true;
  }
  bool fill(std::int64_t n) {
    const auto gap = std::ranges::find_if(gaps_, [&](const Range& range) { return range.first <= n && n <= range.second; });
    if (gap == gaps_.end()) return false;
    const auto [first, last] = *gap;
    auto at = gaps_.erase(gap);
    if (n < last) at = gaps_.insert(at, {n + 1, last});
    if (first < n) gaps_.insert(at, {first, n - 1});
    return true;
  }
  void count_anew(std::int64_t n) {
    ++row_.epoch;
    row_.last_number = n;
    fall_.low = -1;
    gaps_.clear();
    recent_ = Recent("");
    result_.epoch_opened = true;
  }

  store::Subscription& row_;
  bool asked_;
  Fall& fall_;
  std::vector<Range> gaps_;
  Recent recent_;
  Hearing result_;
};

}  // namespace

Heard heard_of(const std::string& name, const fhir_read::Notice& notice) {
  Heard heard{.name = name, .type = notice.type, .status = notice.status, .subscription_id = notice.subscription_id, .since_start = notice.events_since_start, .errors = notice.errors};
  for (const auto& event : notice.events)
    if (event.number) heard.numbers.push_back({*event.number, fhir::sha256_hex(event.timestamp + "|" + event.focus.written).substr(0, 12)});
  std::ranges::sort(heard.numbers, {}, &Heard::Number::n);
  return heard;
}

Hearing hear(store::Subscription& row, const Heard& heard, store::Millis now, Fall& fall) {
  if (!heard.subscription_id.empty() && !row.server_id.empty() && heard.subscription_id != row.server_id) return {.misrouted = true};
  if (!heard.asked) {
    row.heard_at = now;
    ++row.notices;
  }
  Listener listener(row, heard.asked, fall);
  for (const auto& one : heard.numbers) listener.take(one);
  // A late or repeated event brings the count of its own day with it; anything else says where the record is now.
  const bool late = heard.type == "event-notification" && heard.since_start && *heard.since_start < row.last_number;
  if (heard.since_start && !late) listener.reach(*heard.since_start, heard.type == "handshake");
  return listener.end();
}

std::vector<Range> gaps_of(const store::Subscription& row) {
  std::vector<Range> gaps;
  std::istringstream in(row.gaps);
  for (std::string one; in >> one;)
    if (const auto dash = one.find('-'); dash != std::string::npos) gaps.emplace_back(number(one.substr(0, dash)), number(one.substr(dash + 1)));
  return gaps;
}

void close_gaps(store::Subscription& row, std::int64_t last) {
  std::vector<Range> open;
  for (const auto& [first, end] : gaps_of(row))
    if (end > last) open.emplace_back(std::max(first, last + 1), end);
  set_gaps(row, std::move(open));
}

}  // namespace app
