#include "fhir_read/order_text.h"

#include "fhir_read/phrase.h"

#include <algorithm>

namespace fhir_read {
namespace {

using Words = std::vector<std::string>;

class Lists {
 public:
  explicit Lists(const Terminology& terms) : lists_(terms.order_words) {}
  bool has(std::string_view kind, const std::string& word) const {
    const auto list = lists_.find(std::string(kind));
    return list != lists_.end() && list->second.contains(word);
  }
  bool any(std::string_view kind, const Words& words) const {
    return std::ranges::any_of(words, [&](const std::string& w) { return has(kind, w); });
  }
  // The compounds "Schleusenzug", "Schleusenentfernung" are both at once.
  bool sheath(const std::string& word) const { return has("sheath", word) || has("sheath_removal", word); }
  bool removal(const std::string& word) const { return has("remove", word) || has("sheath_removal", word); }

 private:
  const std::map<std::string, std::set<std::string>>& lists_;
};

bool digits(std::string_view word) { return !word.empty() && word.find_first_not_of("0123456789") == std::string_view::npos; }

bool of_french(std::string_view word) { return word == "f" || word == "fr" || word == "ch" || word == "french"; }

// "6f": a size says nothing of when.
bool size(const std::string& word) {
  const auto end = std::min(word.find_first_not_of("0123456789"), word.size());
  return end > 0 && end <= 2 && of_french(std::string_view(word).substr(end));
}

// "6 F" -> "6f"
void join_sizes(Words& words) {
  for (std::size_t i = 1; i < words.size(); ++i) {
    if (!digits(words[i - 1]) || !of_french(words[i])) continue;
    words[i - 1] += words[i];
    words.erase(words.begin() + static_cast<std::ptrdiff_t>(i));
  }
}

std::string last_word(const std::string& sentence) {
  const auto words = words_of(sentence);
  const bool ends_in_it = !sentence.empty() && sentence.back() != ' ' && !words.empty();
  return ends_in_it ? words.back() : std::string();
}

// A point, semicolon or line ends a sentence; a point between digits does not, nor one that shortens a word ("li.", "ca."). A comma does not: "if the ACT is under 160,
// remove".
std::vector<std::string> sentences_of(std::string_view text, const Lists& lists) {
  std::vector<std::string> found;
  std::string sentence;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool at_the_end = i + 1 == text.size();
    const bool point = text[i] == '.' && (at_the_end || (text[i + 1] == ' ' && !lists.has("shortened", last_word(sentence))));
    if (point || text[i] == ';' || text[i] == '\n' || text[i] == '!' || text[i] == '?') {
      found.push_back(std::move(sentence));
      sentence.clear();
    } else {
      sentence += text[i];
    }
  }
  found.push_back(std::move(sentence));
  return found;
}

// "act < 160 s", "ACT under 180": the limit, with its words taken out of the sentence. The sign is no word and is made one first.
std::optional<int> take_act_limit(std::string& sentence, const Lists& lists) {
  std::string spelt;
  for (std::size_t i = 0; i < sentence.size(); ++i) {
    const auto rest = std::string_view(sentence).substr(i);
    if (rest.starts_with("<=") || rest.starts_with("=<")) spelt += " under ", ++i;
    else if (rest.starts_with("\u2264")) spelt += " under ", i += 2;
    else if (rest.front() == '<') spelt += " under ";
    else if (rest.front() == '>' || rest.starts_with("\u2265")) spelt += " over ", i += rest.front() == '>' ? 0 : 2;
    else spelt += rest.front();
  }
  auto words = words_of(spelt);
  const auto joined = [&] {
    sentence.clear();
    for (const auto& w : words) sentence += (sentence.empty() ? "" : " ") + w;
  };
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] != "act") continue;
    auto at = i + 1;
    bool under = false;
    while (at < words.size() && (lists.has("under", words[at]) || lists.has("filler", words[at]))) under |= lists.has("under", words[at++]);
    if (!under || at == words.size() || !digits(words[at]) || words[at].size() > 3) continue;
    const int limit = std::stoi(words[at++]);
    while (at < words.size() && (words[at] == "s" || words[at] == "sec" || words[at] == "seconds" || words[at] == "sek")) ++at;
    auto from = i;
    while (from > 0 && (lists.has("filler", words[from - 1]) || lists.has("when", words[from - 1]))) --from;
    words.erase(words.begin() + static_cast<std::ptrdiff_t>(from), words.begin() + static_cast<std::ptrdiff_t>(at));
    joined();
    return limit;
  }
  joined();
  return std::nullopt;
}

// From `at` over qualifiers, sheath and removal: where that ends, and whether a sheath and a removal or a lying was met.
struct Run {
  std::size_t end;
  bool sheath = false;
};
Run run_from(const Words& words, std::size_t at, const Lists& lists) {
  Run run{at};
  for (; run.end < words.size(); ++run.end) {
    const auto& w = words[run.end];
    const bool about = lists.sheath(w) || lists.removal(w) || lists.has("filler", w) || lists.has("lying", w) || size(w);
    if (!about) break;
    run.sheath |= lists.sheath(w);
  }
  return run;
}

// "after the sheath is out", "while the sheath is in place": a time of something else. Taken out; true where it was said.
bool take_times(Words& words, const Lists& lists) {
  bool taken = false;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (!lists.has("around", words[i])) continue;
    const auto run = run_from(words, i + 1, lists);
    if (!run.sheath) continue;
    words.erase(words.begin() + static_cast<std::ptrdiff_t>(i), words.begin() + static_cast<std::ptrdiff_t>(run.end));
    taken = true;
    --i;
  }
  return taken;
}

// "and hold manual pressure for 20 min": what follows the pull, taken out with its minutes.
void take_pressing(Words& words, const Lists& lists) {
  const auto of_it = [&](const std::string& w) { return lists.has("press_with", w) || lists.has("press", w) || digits(w); };
  const auto pressing = std::ranges::find_if(words, [&](const std::string& w) { return lists.has("press", w); });
  if (pressing == words.end()) return;
  auto from = pressing, to = pressing;
  while (from != words.begin() && lists.has("press_with", *std::prev(from))) --from;
  while (to != words.end() && of_it(*to)) ++to;
  words.erase(from, to);
}

// The first word of `kind` at or behind `from`; words.size(): none.
std::size_t next(const Words& words, std::size_t from, const Lists& lists, std::string_view kind) {
  while (from < words.size() && !lists.has(kind, words[from])) ++from;
  return from;
}

bool only_fillers(const Words& words, std::size_t from, std::size_t to, const Lists& lists) {
  return std::all_of(words.begin() + static_cast<std::ptrdiff_t>(from), words.begin() + static_cast<std::ptrdiff_t>(to),
                     [&](const std::string& w) { return lists.has("filler", w) || lists.sheath(w) || size(w); });
}

// "do not remove", "nicht ziehen", "ne pas retirer", "no retirar", "nie usuwa\u0107": the denial with what is done right behind it, or behind the sheath alone.
bool denied(const Words& words, const Lists& lists) {
  for (auto i = next(words, 0, lists, "not"); i < words.size(); i = next(words, i + 1, lists, "not")) {
    for (auto at = i + 1; at < words.size() && only_fillers(words, i + 1, at, lists); ++at)
      if (lists.removal(words[at]) || lists.has("touch", words[at])) return true;
  }
  return false;
}

// "keep sheath site dry", "with a sheath stay flat": of something else.
bool of_a_part(const Words& words, std::size_t at, const Lists& lists) {
  while (at < words.size() && lists.has("filler", words[at])) ++at;
  return at < words.size() && lists.has("part", words[at]);
}

// "sheath: leave", "sheath: leave until morning", "sheath to be left in".
bool is_to_be_left(const Words& words, std::size_t sheath, const Lists& lists) {
  for (auto i = sheath + 1; i < words.size(); ++i)
    if (words[i] == "left" && words[i - 1] == "be") return true;
  for (auto i = next(words, sheath, lists, "leave"); i < words.size(); i = next(words, i + 1, lists, "leave")) {
    auto at = i + 1;
    while (at < words.size() && lists.has("filler", words[at])) ++at;
    if (at == words.size() || lists.has("until", words[at]) || lists.has("night", words[at])) return true;
  }
  return false;
}

// "leave the sheath", "delay sheath removal"; and the other way round, "Schleuse bis morgen belassen", "sheath to stay".
bool left_in(const Words& words, const Lists& lists) {
  for (auto i = next(words, 0, lists, "leave"); i < words.size(); i = next(words, i + 1, lists, "leave")) {
    const auto run = run_from(words, i + 1, lists);
    if (run.sheath && !of_a_part(words, run.end, lists)) return true;
  }
  const auto sheath = std::ranges::find_if(words, [&](const std::string& w) { return lists.sheath(w); });
  const auto from = static_cast<std::size_t>(sheath - words.begin());
  if (is_to_be_left(words, from, lists)) return true;
  const auto behind = next(words, from, lists, "stay");
  return behind < words.size() && !of_a_part(words, behind + 1, lists);
}

bool plain(const Words& words, const Lists& lists) {
  return std::ranges::all_of(words, [&](const std::string& w) { return lists.sheath(w) || lists.removal(w) || lists.has("filler", w) || lists.has("plain", w) || size(w); });
}

// "radial sheath", "sheath in the jugular vein": every sheath of the sentence is one of elsewhere. "Radial failed: leave sheath" is about the groin's.
bool elsewhere(const Words& words, const Lists& lists) {
  if (!lists.any("elsewhere", words) || lists.any("groin", words)) return false;
  const auto between = [&](const std::string& w) { return lists.has("filler", w) || lists.removal(w) || lists.sheath(w) || size(w); };
  const auto reached = [&](std::size_t from, int step) {
    auto at = static_cast<std::ptrdiff_t>(from) + step;
    while (at >= 0 && at < std::ssize(words) && between(words[static_cast<std::size_t>(at)])) at += step;
    return at >= 0 && at < std::ssize(words) && lists.has("elsewhere", words[static_cast<std::size_t>(at)]);
  };
  for (std::size_t i = 0; i < words.size(); ++i)
    if (lists.sheath(words[i]) && !reached(i, -1) && !reached(i, 1)) return false;
  return true;
}

// "femoral line", "Leistenzugang": what lies in the groin, called by what it is for. It is the sheath where somebody says that it stays.
bool name_line(Words& words, const Lists& lists) {
  if (!lists.any("line", words) || !(lists.any("groin", words) || lists.any("arterial", words))) return false;
  for (auto& w : words)
    if (lists.has("line", w)) w = "sheath";
  return true;
}

// "Sheath out only by the doctor", "sheath not out before 18:00".
bool out_of_place(const Words& words, const Lists& lists) {
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (!lists.sheath(words[i])) continue;
    const auto between = [&](const std::string& w) {
      return lists.has("filler", w) || lists.has("not", w) || lists.has("stay", w) || lists.has("binds", w) || lists.has("night", w) || size(w);
    };
    auto at = i + 1;
    while (at < words.size() && !lists.has("out", words[at]) && between(words[at])) ++at;
    if (at < words.size() && lists.has("out", words[at])) return true;
  }
  return false;
}

// Of a removal, without naming it: what sets a condition, a person or a time.
bool binds(const Words& words, const Lists& lists) {
  return std::ranges::any_of(words, [&](const std::string& w) {
    return lists.has("binds", w) || lists.has("when", w) || lists.has("around", w) || lists.has("until", w) || lists.has("not", w) || lists.has("night", w) || (!size(w) && digits(w.substr(0, 1)));
  });
}

// "Nicht ziehen vor Rücksprache", "do not pull": a denial of pulling that names no other thing. Behind a title or a sentence about the sheath it is the sheath's.
bool bare_denial(const Words& words, const Lists& lists) {
  const auto no = next(words, 0, lists, "not");
  const auto opens = [&](const std::string& w) { return lists.has("filler", w) || lists.has("plain", w); };
  if (no == words.size() || !std::all_of(words.begin(), words.begin() + static_cast<std::ptrdiff_t>(no), opens)) return false;
  auto at = no + 1;
  while (at < words.size() && lists.has("filler", words[at])) ++at;
  if (at == words.size() || !lists.has("pull", words[at])) return false;
  while (++at < words.size() && lists.has("filler", words[at])) {}
  if (at == words.size()) return true;
  const auto& then = words[at];
  return lists.has("binds", then) || lists.has("when", then) || lists.has("around", then) || lists.has("until", then) || lists.has("night", then) || digits(then.substr(0, 1));
}

SheathWord judged(Words words, const Lists& lists, bool of_a_removal) {
  const auto sheath = [&] { return std::ranges::any_of(words, [&](const std::string& w) { return lists.sheath(w); }); };
  const auto removal = [&] { return std::ranges::any_of(words, [&](const std::string& w) { return lists.removal(w); }); };
  if (words.empty()) return SheathWord::none;
  join_sizes(words);
  if (elsewhere(words, lists)) return SheathWord::none;
  if (!sheath() && name_line(words, lists)) {
    const auto does = judged(std::move(words), lists, of_a_removal);
    return does > SheathWord::removal ? does : SheathWord::none;
  }
  const bool timed = take_times(words, lists);
  take_pressing(words, lists);
  if (!sheath() && !of_a_removal) return SheathWord::none;
  if (timed && !sheath()) return SheathWord::none;
  if (denied(words, lists) || left_in(words, lists)) return SheathWord::leave;
  if (!sheath()) return binds(words, lists) ? SheathWord::conditional : SheathWord::none;
  if (!removal()) return out_of_place(words, lists) && binds(words, lists) ? SheathWord::conditional : SheathWord::named;
  return plain(words, lists) ? SheathWord::removal : SheathWord::conditional;
}

}  // namespace

SheathSaying sheath_saying(std::string_view text, const Terminology& terms, bool of_a_removal) {
  const Lists lists(terms);
  SheathSaying said;
  bool named = false;
  for (const auto& sentence : sentences_of(text, lists)) {
    auto words_left = sentence;
    const auto limit = take_act_limit(words_left, lists);
    auto does = judged(words_of(words_left), lists, of_a_removal);
    if (does == SheathWord::none && named && bare_denial(words_of(words_left), lists)) does = SheathWord::leave;
    named = named || does != SheathWord::none;
    const bool about = does != SheathWord::none || of_a_removal;
    if (limit && about && (!said.act_below || *limit < *said.act_below)) said.act_below = limit;
    if (does > said.does) said.does = does, said.sentence = sentence;
  }
  return said;
}

bool denies_a_removal(std::string_view text, const Terminology& terms) {
  const Lists lists(terms);
  return std::ranges::any_of(sentences_of(text, lists), [&](const std::string& s) { return bare_denial(words_of(s), lists); });
}

namespace {

bool numbered(const std::string& word) { return digits(word.substr(0, 1)); }

// "BR x 12 h"
bool short_for_rest(const Words& words, const Lists& lists) {
  for (auto i = next(words, 0, lists, "bed_rest_short"); i < words.size(); i = next(words, i + 1, lists, "bed_rest_short")) {
    auto at = i + 1;
    while (at < words.size() && (words[at] == "x" || lists.has("filler", words[at]))) ++at;
    if (at < words.size() && (numbered(words[at]) || lists.has("until", words[at]))) return true;
  }
  return false;
}

// "Mobilisation erst ab morgen", "not to be mobilised": getting up, with a no or a not-before close by.
bool not_up_yet(const Words& words, const Lists& lists) {
  constexpr std::ptrdiff_t near = 4;
  for (auto i = next(words, 0, lists, "up"); i < words.size(); i = next(words, i + 1, lists, "up")) {
    const auto here = static_cast<std::ptrdiff_t>(i);
    for (auto at = std::max<std::ptrdiff_t>(0, here - near); at < std::min(std::ssize(words), here + near + 1); ++at) {
      const auto& w = words[static_cast<std::size_t>(at)];
      if (lists.has("not_before", w)) return true;
      if (lists.has("not", w) && at < here && only_fillers(words, static_cast<std::size_t>(at) + 1, i, lists)) return true;
      if (lists.has("not", w) && at == here + 1) return true;
    }
  }
  return false;
}

bool forbids_getting_up(std::string_view text, const Lists& lists) {
  return std::ranges::any_of(sentences_of(text, lists), [&](const std::string& s) { return not_up_yet(words_of(s), lists); });
}

}  // namespace

bool names_bed_rest(std::string_view text, const Terminology& terms) {
  const Lists lists(terms);
  const auto words = words_of(text);
  if (short_for_rest(words, lists) || forbids_getting_up(text, lists)) return true;
  return std::ranges::any_of(terms.orders.names, [&](const auto& name) { return name.meaning == clinical::OrderKind::bed_rest && name.phrase.match(words) == Phrase::Match::yes; });
}

namespace {

// "until 6 h after the pull" is a length; "bis 8 h" is a time of the day.
bool length_from_there(const Words& words, std::size_t at, const Lists& lists) {
  const auto end = std::min(at + 3, words.size());
  return at < words.size() && digits(words[at].substr(0, 1)) && std::any_of(words.begin() + static_cast<std::ptrdiff_t>(at), words.begin() + static_cast<std::ptrdiff_t>(end), [&](const std::string& w) { return lists.has("around", w); });
}

// "14:00", "20 Uhr": a time of the day, which a length does not say.
bool names_a_clock(std::string_view text) {
  const auto digit = [&](std::size_t at) { return at < text.size() && text[at] >= '0' && text[at] <= '9'; };
  for (std::size_t at = 1; at + 2 < text.size(); ++at)
    if (text[at] == ':' && digit(at - 1) && digit(at + 1) && digit(at + 2)) return true;
  const auto words = words_of(text);
  return std::ranges::any_of(words, [](const std::string& w) { return w == "uhr" || w == "oclock"; });
}

}  // namespace

bool rest_end_unread(std::string_view text, const Terminology& terms, bool length_read) {
  const Lists lists(terms);
  const auto words = words_of(text);
  if (!length_read && forbids_getting_up(text, lists)) return true;
  if (names_a_clock(text)) return true;  // of the day, or a length that begins elsewhere
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (lists.has("clock_before", words[i]) && i + 1 < words.size() && numbered(words[i + 1])) return true;
    if (lists.has("until", words[i]) && !run_from(words, i + 1, lists).sheath && !(length_read && length_from_there(words, i + 1, lists))) return true;
    if (lists.has("night", words[i]) || (!length_read && lists.has("hours", words[i]))) return true;
  }
  return false;
}

}  // namespace fhir_read
