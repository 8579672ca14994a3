// The renal bands of the half-lives, at their edges and a step to each side. Half-lives: sources beside each row; clearance by Cockcroft and Gault,
// Nephron 1976;16:31: (140 - 50) x 72 / (72 x creatinine) = 90 / creatinine in a man of 50 years and 72 kg (below his ideal weight at 180 cm, which would
// give more). Bands are written 50-80 and the like; this project puts an edge itself into the more impaired band (its own cautious choice).
#include "clinical/half_life.h"

#include <fmt/format.h>

#include "clinical/clearance.h"
#include "gate_support.h"

namespace clinical {
namespace {

/// Exact at every edge: 90 / 80 = 1.125 mg/dL and so on.
Bedside with_clearance(double millilitres_per_minute) {
  Bedside bed = bare();
  bed.facts.start = hm(12);
  bed.facts.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1976} / std::chrono::January / 15});
  bed.lab(Analyte::weight, 72, hm(8));
  bed.lab(Analyte::height, 180, hm(8));
  bed.lab(Analyte::creatinine, 90 / millilitres_per_minute, hm(9));
  return bed;
}
std::optional<minutes> half_life_at(const Bedside& bed, Agent agent) {
  const Clock clock(hm(13));
  const auto found = half_life_of(Evidence(bed.facts, cautious(), clock), agent, {});
  if (!found) return std::nullopt;
  return std::chrono::duration_cast<minutes>(found->length);
}

struct Edge {
  Agent agent;
  double at;                    // mL/min
  int better, worse;            // min; -1: none is given
  const char* source;
};
constexpr Edge kEdges[] = {
    {Agent::enoxaparin, 30, 420, 693, "US label 12.3: 7 h; EU product information 5.2: exposure + 65 % below 30"},
    {Agent::dalteparin, 30, 300, -1, "US label 12.3, from memory: 3 to 5 h; nothing found below 30"},
    {Agent::fondaparinux, 80, 1260, 1680, "US label 12.3: 21 h; 75 % of the clearance at 50 to 80"},
    {Agent::fondaparinux, 50, 1680, 2100, "US label 12.3: 60 % at 30 to 50"},
    {Agent::fondaparinux, 30, 2100, 2800, "US label 12.3: 45 % below 30"},
    {Agent::bivalirudin, 60, 25, 34, "US label 12.3, secondary copies: 25 min, 34 min at 30 to 59"},
    {Agent::bivalirudin, 30, 34, 57, "US label 12.3: 57 min at 10 to 29"},
    {Agent::bivalirudin, 10, 57, 210, "US label 12.3, secondary copies: 3.5 h on dialysis; under 10 like dialysis (own choice)"},
    {Agent::eptifibatide, 50, 150, 300, "US label 12.3: 2.5 h; clearance of the drug halved below 50"},
    {Agent::tirofiban, 60, 120, 200, "US label 12.3: 2 h; 40 % less below 60"},
    {Agent::tirofiban, 30, 200, 240, "US label 12.3: more than halved below 30"},
    {Agent::apixaban, 50, 720, 1056, "PMC11636576 Table 4: 12 h; PMC5108189 Table 1: 17.6 h at 30 to 49"},
    {Agent::edoxaban, 30, 840, 1014, "PMC11636576 Table 4: 10 to 14 h; PMC5108189 Table 1: 16.9 h below 30"},
    {Agent::dabigatran, 80, 780, 900, "Emerg Med J, Table 1: 13 h over 80, 15 h at 50 to 79"},
    {Agent::dabigatran, 50, 900, 1080, "Emerg Med J, Table 1: 18 h at 30 to 49"},
    {Agent::dabigatran, 30, 1080, 1620, "Emerg Med J, Table 1: 27 h at 15 to 29"},
};

std::optional<minutes> given(int length) { return length < 0 ? std::nullopt : std::optional(minutes{length}); }

TEST(HalfLifeBands, AnEdgeFallsIntoTheMoreImpairedBand) {
  for (const auto& edge : kEdges) {
    SCOPED_TRACE(fmt::format("{} at {}: {}", name_of(edge.agent), edge.at, edge.source));
    EXPECT_EQ(half_life_at(with_clearance(edge.at + 0.1), edge.agent), given(edge.better));
    EXPECT_EQ(half_life_at(with_clearance(edge.at), edge.agent), given(edge.worse));
    EXPECT_EQ(half_life_at(with_clearance(edge.at - 0.1), edge.agent), given(edge.worse));
  }
}

TEST(HalfLifeBands, WorseKidneysNeverShorten) {
  for (const auto& edge : kEdges) {
    std::optional<minutes> last = minutes{0};
    for (double clearance = 120; clearance >= 5 && last; clearance -= 0.5) {
      const auto length = half_life_at(with_clearance(clearance), edge.agent);
      if (length) {
        EXPECT_GE(*length, *last) << name_of(edge.agent) << " at " << clearance;
      }
      last = length;   // none is given: from here on none may come back
    }
    if (!last) {
      EXPECT_FALSE(half_life_at(with_clearance(5), edge.agent)) << name_of(edge.agent);
    }
  }
}

// A missing height: the next worse band, because the weight may be far above the ideal one.
TEST(HalfLifeBands, WithoutAHeightTheNextWorseBand) {
  for (const auto& edge : kEdges) {
    auto bed = with_clearance(edge.at + 0.1);
    std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::height; });
    EXPECT_EQ(half_life_at(bed, edge.agent), given(edge.worse)) << name_of(edge.agent) << " at " << edge.at;
  }
}

TEST(HalfLifeBands, DialysisAndUnstableCreatinineHaveNone) {
  for (const auto& edge : kEdges) {
    auto dialysis = with_clearance(90);
    dialysis.risk(RiskKind::dialysis);
    const auto expected = edge.agent == Agent::bivalirudin ? given(210) : edge.agent == Agent::dalteparin ? given(342) : std::nullopt;   // the only two with a figure for it
    EXPECT_EQ(half_life_at(dialysis, edge.agent), expected) << name_of(edge.agent);
    // A rise by 0.3 mg/dL in 48 h (KDIGO 2012, from memory): the clearance is not what it was.
    auto rising = with_clearance(90);
    rising.lab(Analyte::creatinine, 1.31, hm(10));
    EXPECT_FALSE(half_life_at(rising, edge.agent)) << name_of(edge.agent);
    EXPECT_FALSE(half_life_at(bare(), edge.agent)) << name_of(edge.agent) << ": nothing known";
  }
}

}  // namespace
}  // namespace clinical
