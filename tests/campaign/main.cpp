// campaign --cases N --seed S [--from K] [--protocol FILE] [--law NAME] [--reached] [--stop]
// Asks every law of N random cases. A failure is made smaller and printed as a record of facts; one of each kind is printed.
// Exits 1 when a law is broken or the cases seldom reach what they should.
#include <fmt/format.h>
#include <rapidcheck.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <fstream>
#include <optional>

#include "clinical/compute_plan.h"
#include "laws.h"
#include "profile/protocol_file.h"
#include "reach.h"
#include "told.h"
#include "view.h"

using namespace campaign;
using namespace clinical;

namespace {

struct Options {
  long cases = 20000, from = 0;
  std::uint64_t seed = 1;
  std::string protocol = SOURCE_DIR "/profiles/protocol/cautious.toml";
  std::string law;
  bool reached = false, stop = false;
};

Story random_story(rc::Random random) {
  Story story;
  const auto deed = [&] {
    Deed d{};
    for (std::size_t i = 0; i < d.size(); i += 4) {
      const auto bits = random.next();
      for (std::size_t k = 0; k < 4; ++k) d[i + k] = static_cast<std::uint16_t>(bits >> (16 * k));
    }
    return d;
  };
  const std::size_t length = kFixed + random.next() % (random.next() % 2 ? 24 : 5);
  for (std::size_t i = 0; i < length; ++i) story.deeds.push_back(deed());
  return story;
}

/// Fewer deeds, then plainer ones.
rc::Seq<Story> smaller(const Story& story) {
  std::vector<Story> tries;
  for (std::size_t n = story.deeds.size() - kFixed; n > 0; n /= 2)
    for (std::size_t from = kFixed; from + n <= story.deeds.size(); from += n) {
      Story s = story;
      s.deeds.erase(s.deeds.begin() + static_cast<std::ptrdiff_t>(from), s.deeds.begin() + static_cast<std::ptrdiff_t>(from + n));
      tries.push_back(std::move(s));
    }
  for (std::size_t i = 0; i < story.deeds.size(); ++i)
    for (std::size_t k = 0; k < story.deeds[i].size(); ++k)
      for (const int value : {0, story.deeds[i][k] % 24, story.deeds[i][k] / 2}) {
        if (value < 0 || value >= story.deeds[i][k]) continue;
        Story s = story;
        s.deeds[i][k] = static_cast<std::uint16_t>(value);
        tries.push_back(std::move(s));
      }
  return rc::seq::fromContainer(std::move(tries));
}

rc::Gen<Story> stories() {
  return [](const rc::Random& random, int) { return rc::shrinkable::shrinkRecur(random_story(random), smaller); };
}

class Asker {
 public:
  Asker(const Protocol& protocol, std::string only) : protocol_(protocol), without_early_(protocol), only_(std::move(only)) { without_early_.early_walk.reset(); }

  /// Every law that the case breaks, "law: what". Laws whose name does not begin with `only` are not asked.
  std::vector<std::string> broken(const Story& story, Reach* reach = nullptr) const {
    const Case told = tell(story, protocol_);
    const auto plans = compute_plans(told.record, protocol_, told.now);
    const auto view = view_of(plans);
    const Question q{told, protocol_, plans, view, protocol_.early_walk ? &without_early_ : nullptr};
    const auto& dice = story.deeds[3];
    std::mt19937 random(dice[15]);
    if (reach) reach->note(plans, told.now);
    std::vector<std::string> found;
    const auto ask = [&](const char* law, auto answer) {
      if (!std::string_view(law).starts_with(only_)) return;
      if (auto what = answer(); !what.empty()) found.push_back(fmt::format("{}: {}", law, what));
    };
    if (q.without_early) ask("without early rows", [&] { return early_rows_only_shorten(q); });
    if (dice[11] % 4 == 2) ask("same again", [&] { return twice(q); });
    ask("any order", [&] { return any_order(q, random); });
    ask("shape", [&] { return shape(q); });
    ask("stands still", [&] { return stands_still(q, random); });
    if (only_ == "idle") ask("idle", [&] { return wakes_for_nothing(q); });
    if (dice[11] % 4 == 0) ask("time alone", [&] { return time_alone(q); });
    if (dice[11] % 4 == 1) ask("absent", [&] { return absent_is_not_recorded(q, Picks(dice)); });
    for (std::size_t i = 0; i < 2; ++i) ask("nothing earlier", [&] { return changed(q, dice[12 + i], story.deeds[i], reach); });
    return found;
  }

 private:
  static std::string changed(const Question& q, std::uint16_t which, const Deed& deed, Reach* reach) {
    const auto& list = which % 2 ? risks() : losses();
    const auto& change = list[(which / 2) % list.size()];
    bool applied = false;
    auto what = nothing_earlier(q, change, Picks(deed), applied);
    if (reach) reach->count(std::string(applied ? "change: " : "change not possible: ") + change.name);
    return what;
  }

  const Protocol& protocol_;
  Protocol without_early_;
  std::string only_;
};

std::string law_of(const std::string& what) {
  // The law, and what it speaks of, without times and places: one kind of fault is shown once.
  std::string kind;
  for (const char c : what) {
    if (std::isdigit(static_cast<unsigned char>(c))) continue;
    kind += c;
    if (kind.size() > 70) break;
  }
  return kind;
}

void print_failure(const Story& story, const Protocol& protocol, const std::string& what, std::uint64_t seed, long number) {
  const Case told_case = tell(story, protocol);
  fmt::print("\n== {}\n   (seed {}, case {}; now {})\n{}", what, seed, number, written(told_case.now), told(told_case.record));
  std::fflush(stdout);
}

Story shrunk(Story story, const Asker& asker, const std::string& kind) {
  bool again = true;
  for (int round = 0; again && round < 60; ++round) {
    again = false;
    auto seq = smaller(story);
    while (const auto next = seq.next()) {
      const auto found = asker.broken(*next);
      if (std::none_of(found.begin(), found.end(), [&](const auto& f) { return law_of(f) == kind; })) continue;
      story = *next;
      again = true;
      break;
    }
  }
  return story;
}

int run(const Options& options, const Protocol& protocol) {
  const Asker asker(protocol, options.law);
  Reach reach;
  std::map<std::string, long> kinds;
  long broken = 0;
  const auto generator = stories();
  rc::Random random(options.seed);
  const auto start = std::chrono::steady_clock::now();
  for (long i = 0; i < options.from; ++i) random.split();
  for (long i = options.from; i < options.from + options.cases; ++i) {
    const Story story = generator(random.split(), 0).value();
    const auto found = asker.broken(story, &reach);
    broken += !found.empty();
    if (broken > 0 && options.stop) return 1;
    for (const auto& what : found) {
      const auto kind = law_of(what);
      if (++kinds[kind] > 1) continue;
      const Asker again(protocol, what.substr(0, what.find(':')));
      const Story small = shrunk(story, again, kind);
      for (const auto& now_what : again.broken(small))
        if (law_of(now_what) == kind) {
          print_failure(small, protocol, now_what, options.seed, i);
          break;
        }
    }
  }
  const double took = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  fmt::print("\n{} cases, seed {}, {:.1f} s, {:.0f} cases/s; {} cases broke a law; nextChange led to nothing new in {} of {}\n", options.cases, options.seed, took,
             static_cast<double>(options.cases) / took, broken, wakes.idle, wakes.asked);
  for (const auto& [kind, n] : kinds) fmt::print("  {:>6} x {}\n", n, kind);
  if (options.reached) fmt::print("reached:\n{}", reach.table());
  const auto seldom = options.cases >= 5000 && options.law.empty() ? reach.too_seldom(protocol.early_walk.has_value()) : std::string();
  if (!seldom.empty()) fmt::print("reached too seldom:\n{}", seldom);
  return broken == 0 && seldom.empty() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app("Asks the laws of the plan of random cases");
  app.add_option("--cases", options.cases, "how many cases");
  app.add_option("--from", options.from, "the number of the first one: --from K --cases 1 asks case K again");
  app.add_option("--seed", options.seed, "the same seed asks the same cases");
  app.add_option("--protocol", options.protocol, "a protocol file");
  app.add_option("--law", options.law, "only laws whose name begins so");
  app.add_flag("--reached", options.reached, "print which states were reached");
  app.add_flag("--stop", options.stop, "end with 1 at the first law that is broken, and print nothing");
  CLI11_PARSE(app, argc, argv);
  const auto loaded = profile::load_protocol(options.protocol);
  if (!loaded.protocol) {
    for (const auto& fault : loaded.faults) fmt::print(stderr, "{}\n", to_string(fault));
    return 2;
  }
  return run(options, *loaded.protocol);
}
