// What is left of a drug after whole histories of boluses, rates that change and pauses, as the plan says it, against a general numerical solver of
// ordinary differential equations (Boost.Numeric.Odeint, Runge-Kutta-Fehlberg 7(8)). Seeded; a failure names its round.
#include <algorithm>
#include <array>
#include <boost/numeric/odeint.hpp>

#include <cmath>
#include <map>
#include <random>

#include "gate_support.h"

namespace clinical {
namespace {

struct Piece {
  Instant start, end;
  double per_hour = 0;  ///< units per hour; of a bolus the whole amount
  bool bolus = false;
};

/// dA/dt = rate(t) - k A from the first piece to `at`, with the boluses as jumps. The state also holds what has left, so that nothing may get lost.
double solved(const std::vector<Piece>& pieces, double half_life_s, Instant at) {
  namespace ode = boost::numeric::odeint;
  using State = std::array<double, 2>;
  const double k = std::log(2.0) / half_life_s;
  std::map<Instant, double> jumps{{at, 0}};
  for (const auto& p : pieces) {
    jumps[p.start] += p.bolus ? p.per_hour : 0;
    jumps[p.end] += 0;
  }
  State state{0, 0};
  double given = 0;
  for (auto from = jumps.begin(); from != jumps.end() && from->first <= at; ++from) {
    state[0] += from->second;
    given += from->second;
    const auto to = std::next(from);
    if (to == jumps.end() || from->first == at) break;
    double rate = 0;
    for (const auto& p : pieces)
      if (!p.bolus && p.start <= from->first && p.end >= to->first) rate += p.per_hour / 3600;
    const double length = static_cast<double>((to->first - from->first).count());
    given += rate * length;
    const auto change = [&](const State& x, State& dx, double) { dx = {rate - k * x[0], k * x[0]}; };
    ode::integrate_adaptive(ode::make_controlled<ode::runge_kutta_fehlberg78<State>>(1e-11, 1e-11), change, state, 0.0, length, 1.0);
  }
  EXPECT_NEAR(state[0] + state[1], given, 1e-6 * (1 + given)) << "the solver keeps what was given";
  return state[0];
}

class History {
 public:
  explicit History(unsigned seed) : random_(seed) {}
  int between(int low, int high) { return std::uniform_int_distribution(low, high)(random_); }

  /// Two to seven pieces one after the other, now and then with a pause, a bolus or an overlap.
  void give(Bedside& bed, Agent agent) {
    Instant at = hm(8, between(0, 120));
    for (int left = between(2, 7); left > 0; --left) {
      const int amount_given = between(1, 400);
      auto& a = bed.bolus(agent, at, amount_given, DoseUnit::milligram);
      if (between(0, 3) == 0) {
        pieces.push_back({at, at, static_cast<double>(amount_given), true});
      } else {
        const Instant end = at + seconds{between(30, 7200)};
        a.bolus = false;
        a.end = exactly(end);
        pieces.push_back({at, end, static_cast<double>(amount_given), false});
        if (between(0, 1) == 0) {   // as a rate: so much per hour
          a.dose.reset();
          a.rate = Rate{amount(amount_given, "mg/h"), DoseUnit::milligram, false};
        } else {                    // as a total over the time
          pieces.back().per_hour = amount_given * 3600.0 / static_cast<double>((end - at).count());
        }
        at = between(0, 5) == 0 ? at + (end - at) / 2 : end;
      }
      if (between(0, 2) == 0) at += minutes{between(1, 90)};
    }
  }
  Instant last() const {
    Instant end = Instant::min();
    for (const auto& p : pieces) end = std::max(end, p.end);
    return end;
  }
  std::vector<Piece> pieces;

 private:
  std::mt19937 random_;
};

// Half-lives of the shipped protocol: argatroban 51 min, cangrelor 6 min, eptifibatide 150 min, tirofiban 120 min, bivalirudin 25 min (US labels; normal kidneys).
TEST(OracleFraction, HistoriesOfBolusesRatesAndPauses) {
  const std::pair<Agent, double> agents[] = {{Agent::argatroban, 51}, {Agent::cangrelor, 6}, {Agent::eptifibatide, 150}, {Agent::tirofiban, 120}, {Agent::bivalirudin, 25}};
  int compared = 0;
  for (unsigned seed = 1; seed <= 200; ++seed) {
    SCOPED_TRACE(seed);
    History history(seed);
    const auto& [agent, half_life] = agents[seed % 5];
    Bedside bed = ready();
    bed.facts.administrations.clear();
    history.give(bed, agent);
    const Instant stop = history.last();
    const double at_stop = solved(history.pieces, half_life * 60, stop);
    for (const int after : {0, 1, history.between(1, 90), history.between(90, 600)}) {
      const Instant now = stop + minutes{after};
      const auto rows = agents_at(bed.facts, cautious(), Clock(now));
      ASSERT_EQ(rows.size(), 1U);
      EXPECT_EQ(rows[0].half_life, minutes{static_cast<int>(half_life)});
      EXPECT_EQ(rows[0].last_given, stop);
      ASSERT_TRUE(rows[0].fraction_left);
      EXPECT_NEAR(*rows[0].fraction_left, solved(history.pieces, half_life * 60, now) / at_stop, 1e-7) << after << " min after the stop";
      ++compared;
    }
  }
  EXPECT_EQ(compared, 800);
}

}  // namespace
}  // namespace clinical
