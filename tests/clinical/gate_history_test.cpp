// anticoagulant-history and home-anticoagulants. No published source decides them: only a recorded fact opens a gate.
#include "gate_support.h"

namespace clinical {
namespace {

constexpr auto open = GateState::open, needs = GateState::needs, ask = GateState::ask;
constexpr std::nullopt_t absent = std::nullopt;
constexpr auto kHistory = GateName::anticoagulant_history, kHome = GateName::home_anticoagulants;

void none_given(Bedside& b, Instant at = hm(13)) { b.state(StatementKind::no_anticoagulant_given, at); }

const std::vector<GateRow> kHistoryRows = {
    {"nothing recorded", [](Bedside&) {}, kHistory, hm(15), needs},
    {"a dose for the procedure", [](Bedside& b) { b.bolus(Agent::heparin, hm(12, 5)); }, kHistory, hm(15), open},
    {"exactly 6 h before the start", [](Bedside& b) { b.bolus(Agent::heparin, hm(6)); }, kHistory, hm(15), open},
    {"1 s before that", [](Bedside& b) { b.bolus(Agent::heparin, hm(5, 59, 59)); }, kHistory, hm(15), needs},
    {"an infusion that reached into the 6 h", [](Bedside& b) { b.infusion(Agent::heparin, hm(-20), hm(7)); }, kHistory, hm(15), open},
    {"flush does not count", [](Bedside& b) { b.bolus(Agent::heparin, hm(12, 5)).flush = true; }, kHistory, hm(15), needs},
    {"antiplatelets do not count", [](Bedside& b) { b.bolus(Agent::aspirin, hm(12, 5)), b.bolus(Agent::ticagrelor, hm(12, 5)); }, kHistory, hm(15), needs},
    {"a GP inhibitor alone does not", [](Bedside& b) { b.infusion(Agent::tirofiban, hm(12, 5), {}); }, kHistory, hm(15), needs},
    {"a home drug does not", [](Bedside& b) { b.home(Agent::apixaban, exactly(hm(8))); }, kHistory, hm(15), needs},
    {"a tablet in the 6 h does not tell", [](Bedside& b) { b.bolus(Agent::apixaban, hm(8)); }, kHistory, hm(15), needs},
    {"after the sheath came out", [](Bedside& b) { b.site().sheath_out = hm(14), b.bolus(Agent::heparin, hm(14, 30)); }, kHistory, hm(15), needs},
    {"not given yet", [](Bedside& b) { b.bolus(Agent::heparin, hm(15, 30)); }, kHistory, hm(15), needs},
    {"whether it was given is not known", [](Bedside& b) { b.bolus(Agent::heparin, hm(12, 5)).status = AdministrationStatus::unknown; }, kHistory, hm(15), needs},
    {"at no recorded time", [](Bedside& b) { auto& a = b.bolus(Agent::heparin, hm(12)); a.start.reset(), a.end.reset(); }, kHistory, hm(15), needs},
    {"on a day only", [](Bedside& b) { auto& a = b.bolus(Agent::heparin, hm(12)); a.start = a.end = Moment{hm(0), hm(23, 59, 59)}; }, kHistory, hm(15), needs},
    {"a statement", [](Bedside& b) { none_given(b); }, kHistory, hm(15), open},
    {"a statement made before the start", [](Bedside& b) { none_given(b, hm(11, 59)); }, kHistory, hm(15), needs},
    {"an undated statement", [](Bedside& b) { none_given(b), b.facts.statements.back().at.reset(); }, kHistory, hm(15), needs},
    {"a statement on another procedure", [](Bedside& b) { none_given(b), b.facts.statements.back().procedure = "Procedure/other"; }, kHistory, hm(15), needs},
    {"a statement on this one", [](Bedside& b) { none_given(b), b.facts.statements.back().procedure = "Procedure/p1"; }, kHistory, hm(15), open},
    {"a statement beside a dose is a conflict", [](Bedside& b) { none_given(b), b.bolus(Agent::heparin, hm(12, 5)); }, kHistory, hm(15), needs},
    {"also a dose after it", [](Bedside& b) { none_given(b), b.bolus(Agent::heparin, hm(14)); }, kHistory, hm(15), needs},
    // The model: contradictory is never normal (law 2); a bad value closes gates whatever the drug.
    {"a statement, and an ACT at its limit", [](Bedside& b) { none_given(b), b.lab(Analyte::act, 150, hm(14)); }, kHistory, hm(15), needs},
    {"an ACT under it", [](Bedside& b) { none_given(b), b.lab(Analyte::act, 149, hm(14)); }, kHistory, hm(15), open},
    {"the newest counts", [](Bedside& b) { none_given(b), b.lab(Analyte::act, 260, hm(13, 30)), b.lab(Analyte::act, 140, hm(14)); }, kHistory, hm(15), open},
    {"an aPTT at its limit", [](Bedside& b) { none_given(b), b.lab(Analyte::aptt, 45, hm(14)); }, kHistory, hm(15), needs},
    {"an ACT of before the start", [](Bedside& b) { none_given(b), b.lab(Analyte::act, 260, hm(11, 59)); }, kHistory, hm(15), open},
    {"an ACT of after the sheath came out", [](Bedside& b) { none_given(b), b.site().sheath_out = hm(14), b.lab(Analyte::act, 260, hm(14, 1)); }, kHistory, hm(15), open},
    {"a statement, and protamine", [](Bedside& b) { none_given(b), b.bolus(Agent::protamine, hm(13, 38)); }, kHistory, hm(15), needs},
    {"protamine after the sheath came out", [](Bedside& b) { none_given(b), b.site().sheath_out = hm(13), b.bolus(Agent::protamine, hm(13, 38)); }, kHistory, hm(15), open},
    {"a drug nobody can name", [](Bedside& b) { b.bolus(Agent::heparin, hm(12, 5)), b.bolus(Agent::unidentified, hm(12, 5)); }, kHistory, hm(15), needs},
    {"a drug that is known to be another", [](Bedside& b) { b.bolus(Agent::heparin, hm(12, 5)), b.bolus(Agent::other, hm(12, 5)); }, kHistory, hm(15), open},
    {"an antithrombotic without a rule", [](Bedside& b) { b.bolus(Agent::heparin, hm(12, 5)), b.bolus(Agent::other_antithrombotic, hm(12, 5)); }, kHistory, hm(15), ask},
    {"one at home", [](Bedside& b) { none_given(b), b.home(Agent::other_antithrombotic, exactly(hm(7))); }, kHistory, hm(15), ask},
    {"one, and nothing else recorded", [](Bedside& b) { b.bolus(Agent::other_antithrombotic, hm(12, 5)); }, kHistory, hm(15), ask},
    {"act stands in need with an unknown history", [](Bedside&) {}, GateName::act, hm(15), needs},
    {"so when nobody says whether it was an intervention", [](Bedside& b) { b.facts.intervention = Tristate::unknown; }, GateName::act, hm(15), needs},
    {"not after a diagnostic procedure", [](Bedside& b) { b.facts.intervention = Tristate::no; }, GateName::act, hm(15), absent},
    {"not where it is known that none was given", [](Bedside& b) { none_given(b); }, GateName::act, hm(15), absent},
    {"in need too beside a drug without a rule", [](Bedside& b) { b.bolus(Agent::other_antithrombotic, hm(12, 5)); }, GateName::act, hm(15), needs},
};

const std::vector<GateRow> kHomeRows = {
    {"nothing recorded", [](Bedside&) {}, kHome, hm(15), needs},
    {"a list that says there are none", [](Bedside& b) { b.nil_list(hm(9)); }, kHome, hm(15), open},
    {"an undated list", [](Bedside& b) { b.nil_list(hm(9)).at.reset(); }, kHome, hm(15), needs},
    {"an empty list that does not say so", [](Bedside& b) { b.nil_list(hm(9)).nil_known = false; }, kHome, hm(15), needs},
    {"a list with other drugs", [](Bedside& b) { b.nil_list(hm(9)).nil_known = false, b.home(Agent::other, {}); }, kHome, hm(15), open},
    {"another drug without a list", [](Bedside& b) { b.home(Agent::other, {}); }, kHome, hm(15), needs},
    {"one without a rule is known, and a clinician decides", [](Bedside& b) { b.home(Agent::other_antithrombotic, exactly(hm(-20))); }, kHome, hm(15), ask},
    {"also beside a list", [](Bedside& b) { b.home(Agent::other_antithrombotic, exactly(hm(-20))), b.nil_list(hm(9)).nil_known = false; }, kHome, hm(15), ask},
    {"a statement", [](Bedside& b) { b.state(StatementKind::no_home_anticoagulant, hm(9)); }, kHome, hm(15), open},
    {"a statement, and what is given against a tablet", [](Bedside& b) { b.state(StatementKind::no_home_anticoagulant, hm(9)), b.bolus(Agent::idarucizumab, hm(13)); }, kHome, hm(15), needs},
    {"a list of none, and what is given against a tablet", [](Bedside& b) { b.nil_list(hm(9)), b.bolus(Agent::andexanet_alfa, hm(13)); }, kHome, hm(15), needs},
    {"an anticoagulant taken", [](Bedside& b) { b.home(Agent::apixaban, exactly(hm(-20))); }, kHome, hm(15), open},
    {"recorded as not taken tells of one drug only", [](Bedside& b) { b.home(Agent::apixaban, {}).taken = false; }, kHome, hm(15), needs},
    {"a prescription without a last dose", [](Bedside& b) { b.home(Agent::apixaban, {}).told_by_request = true; }, kHome, hm(15), needs},
    {"and a list does not settle it", [](Bedside& b) { b.home(Agent::apixaban, {}).told_by_request = true, b.nil_list(hm(9)).nil_known = false; }, kHome, hm(15), needs},
    {"a prescription with one", [](Bedside& b) { b.home(Agent::apixaban, exactly(hm(-20))).told_by_request = true; }, kHome, hm(15), open},
    {"given here before the start", [](Bedside& b) { b.bolus(Agent::enoxaparin, hm(-12)); }, kHome, hm(15), open},
    {"heparin given before tells nothing of home", [](Bedside& b) { b.bolus(Agent::heparin, hm(-12)); }, kHome, hm(15), needs},
    {"none stated beside a home drug", [](Bedside& b) { b.state(StatementKind::no_home_anticoagulant, hm(9)), b.home(Agent::apixaban, exactly(hm(-20))); }, kHome, hm(15), needs},
    {"an empty list beside a home drug", [](Bedside& b) { b.nil_list(hm(9)), b.home(Agent::warfarin, exactly(hm(-20))); }, kHome, hm(15), needs},
    {"a home drug nobody can name", [](Bedside& b) { b.nil_list(hm(9)), b.home(Agent::unidentified, exactly(hm(-20))); }, kHome, hm(15), needs},
};

class History : public testing::TestWithParam<GateRow> {};
TEST_P(History, Row) { expect_row(bare(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(Gate, History, testing::ValuesIn(kHistoryRows));
INSTANTIATE_TEST_SUITE_P(GateHome, History, testing::ValuesIn(kHomeRows));

TEST(GateHistory, NamesTheFactItNeeds) {
  Bedside bed = bare();
  EXPECT_EQ(bed.gate(kHistory, hm(15))->needs, std::vector{Fact::anticoagulant_history});
  Bedside tablet = bare();  // its time is known: what was given for the procedure is not (common practice, no source)
  tablet.bolus(Agent::rivaroxaban, hm(8));
  EXPECT_EQ(tablet.gate(kHistory, hm(15))->needs, std::vector{Fact::anticoagulant_history});
  bed.bolus(Agent::unidentified, hm(12, 5)).name = "clear ampoule";
  EXPECT_EQ(bed.gate(kHistory, hm(15))->needs, std::vector{Fact::drug_identity});
}

TEST(ProceduralAnticoagulant, UnknownCountsOnlyWhereTheRecordIsSilent) {
  const auto of = [](Bedside& bed) { return procedural_anticoagulant(bed.facts, bed.site(), cautious(), Clock(hm(15))); };
  Bedside silent = bare();
  EXPECT_EQ(of(silent), Tristate::unknown);
  Bedside dosed = bare();
  dosed.bolus(Agent::heparin, hm(12, 5));
  EXPECT_EQ(of(dosed), Tristate::yes);
  Bedside none = bare();
  none_given(none);
  EXPECT_EQ(of(none), Tristate::unknown) << "home drugs not told";
  none.nil_list(hm(9));
  EXPECT_EQ(of(none), Tristate::no);
  Bedside home = bare();  // apixaban 20 h before: its femoral hold (48 h) has not run out
  none_given(home);
  home.home(Agent::apixaban, exactly(hm(-8)));
  EXPECT_EQ(of(home), Tristate::yes);
  home.facts.home_drugs.front().last_dose = exactly(hm(-100));
  EXPECT_EQ(of(home), Tristate::no);
  Bedside warfarin = bare();
  none_given(warfarin);
  warfarin.home(Agent::warfarin, exactly(hm(5, 59)));
  EXPECT_EQ(of(warfarin), Tristate::no);
  warfarin.facts.home_drugs.front().last_dose = exactly(hm(6));
  EXPECT_EQ(of(warfarin), Tristate::yes) << "6 h before the start";
  warfarin.facts.home_drugs.front().last_dose.reset();
  EXPECT_EQ(of(warfarin), Tristate::yes) << "nobody knows when";
}

}  // namespace
}  // namespace clinical
