// Which value clears which drug, written down a second time. Enoxaparin US label 2.6: PT and aPTT not adequate; dabigatran, apixaban and rivaroxaban:
// ACT not reliable (ACC 2020 pathway, secondary copies); the rest from memory or common practice.
#include <gtest/gtest.h>

#include <algorithm>

#include "clinical/gates.h"
#include "clinical/laboratory.h"
#include "clinical/names.h"

namespace clinical {
namespace {

struct LaboratoryRow {
  Agent drug;
  std::initializer_list<Analyte> clears, partly;
};

TEST(Laboratory, AValueTellsOnlyOfWhatItMeasures) {
  using enum Agent;
  using enum Analyte;
  const LaboratoryRow rows[] = {
      {heparin, {act, aptt, anti_xa}, {}},  {enoxaparin, {anti_xa}, {}},          {dalteparin, {anti_xa}, {}},      {tinzaparin, {anti_xa}, {}},
      {fondaparinux, {}, {}},               {bivalirudin, {act, aptt}, {}},       {argatroban, {act, aptt}, {}},    {eptifibatide, {}, {platelets}},
      {tirofiban, {}, {platelets}},         {abciximab, {}, {platelets}},         {cangrelor, {}, {}},              {aspirin, {}, {}},
      {clopidogrel, {}, {}},                {prasugrel, {}, {}},                  {ticagrelor, {}, {}},             {warfarin, {inr}, {}},
      {apixaban, {}, {anti_xa}},            {rivaroxaban, {}, {anti_xa}},         {edoxaban, {}, {anti_xa}},        {dabigatran, {}, {aptt}},
      {alteplase, {fibrinogen}, {aptt}},    {tenecteplase, {fibrinogen}, {aptt}}, {reteplase, {fibrinogen}, {aptt}}, {other_antithrombotic, {}, {}},
      {unidentified, {}, {}},
  };
  for (const auto& row : rows)
    for (const Analyte test : {act, aptt, anti_xa, inr, platelets, haemoglobin, fibrinogen, creatinine}) {
      const bool clears = std::ranges::find(row.clears, test) != row.clears.end(), partly = std::ranges::find(row.partly, test) != row.partly.end();
      EXPECT_EQ(tells(test, row.drug), clears ? Tells::clears : partly ? Tells::partly : Tells::nothing) << name_of(row.drug) << " " << name_of(test);
    }
}

TEST(Laboratory, EveryFibrinolyticAndNothingElseIsClearedByFibrinogen) {
  for (int i = 0; i <= static_cast<int>(Agent::unidentified); ++i) {
    const auto agent = static_cast<Agent>(i);
    EXPECT_EQ(is_fibrinolytic(agent), agent == Agent::alteplase || agent == Agent::tenecteplase || agent == Agent::reteplase) << name_of(agent);
  }
}

}  // namespace
}  // namespace clinical
