// ACT and aPTT after the last dose of a drug that they measure (heparin, bivalirudin, argatroban).
#pragma once

#include "clinical/draft.h"
#include "clinical/newest.h"

namespace clinical {

enum class TestState {
  none,             ///< nothing drawn after the last dose (the same minute does not count)
  no_value,         ///< the newest draw has no value
  before_protamine, ///< drawn too soon after protamine, or before it
  after_bolus,      ///< under the limit, but drawn too soon after a bolus of heparin to have mixed
  stale,            ///< under the limit, but too old
  unsure,           ///< an open interval that may reach the limit
  over,             ///< at or over the limit, whatever its age (see fresh)
  under             ///< under the limit, fresh, after the last dose and long enough after protamine
};

struct ClottingTest {
  TestState state = TestState::none;
  bool fresh = false;
  std::optional<Newest> last;              ///< none with TestState::none
  std::optional<Instant> fresh_until;      ///< inclusive
  std::optional<Instant> protamine_clear;  ///< with before_protamine: from when a draw counts; none: not known
  std::optional<Instant> bolus, bolus_mixed;  ///< with after_bolus: when it was given, and from when a draw counts
};

/// Judged against the newest draw of that test only. `dose` is the end of the last dose.
ClottingTest clotting_test(const Evidence&, Analyte act_or_aptt, const Moment& dose);

/// Which ACT of two analysers or two places of sampling was drawn last is not known where they lie no further apart than two clocks may differ
/// (case.future-tolerance), and one never stands for the other: of `draws` those that far before `last`, of another or an unknown origin, that do not lie
/// surely under the limit while `last` does. Empty: none contradicts it.
std::vector<const Measurement*> contradicting(const Evidence&, MeasurementIndex::Measurements draws, const Newest& last);

/// Both tests since the last dose, and which of them lets the sheath out. An ACT over its limit outweighs an aPTT.
struct ClearingTests {
  ClottingTest act, aptt;
  bool act_over = false;  ///< fresh, at or over the limit
  bool by_act = false, by_aptt = false;
};
ClearingTests clearing_tests(const Evidence&, const Moment& dose);

/// Heparin and the direct thrombin inhibitors: what ACT and aPTT measure.
bool moves_clotting_tests(Agent);
bool is_direct_thrombin_inhibitor(Agent);

/// Doses of heparin / of all that ACT and aPTT measure, home drugs included.
std::vector<DoseEnd> heparin_doses(const Evidence&);
std::vector<DoseEnd> clotting_doses(const Evidence&);

/// When the ACT is to be repeated after protamine, because heparin may act again; none: no protamine after heparin, its end is not known, or it was.
std::optional<Instant> repeat_after_protamine(const Evidence&);

/// From when a draw counts after protamine; none: not given, or its end not known.
std::optional<Instant> protamine_clear(const Evidence&);

/// A direct thrombin inhibitor was given whose row asks for a value beside the clock.
bool thrombin_inhibitor_demands_test(const Evidence&);

/// The newest of the statements that no clotting test can be had, unless a later test ended it; null: none stands.
const Statement* test_unavailable(const Evidence&);

/// heparin-clock stands in for the tests: heparin given, the statement stands.
bool heparin_clock_applies(const Evidence&);

/// Some value since `dose` at or over the limit, whatever its age; null: none.
const Measurement* any_over_since(const Evidence&, Analyte, const std::optional<Moment>& dose);

const Setting& limit_of(const Protocol&, Analyte act_or_aptt);

}  // namespace clinical
