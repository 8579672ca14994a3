// Invented cases as sheets: plans computed from whole records, 2 March 2026, printed for Berlin (UTC+1).
#pragma once

#include <gmock/gmock.h>

#include <string>
#include <vector>

#include "course_support.h"
#include "sheet/lines.h"

namespace sheet {

const Fonts& fonts();
/// templates/<language>, read once; a fault ends the test run.
const words::Words& words_in(const std::string& language);
inline const words::Words& english() { return words_in("en"); }
/// Every folder of sentences, English first.
std::vector<std::string> languages();
/// templates/layout/<paper>.toml, read once; a fault ends the test run.
const Layout& layout_named(const std::string& paper);

/// A plan with what its sheet needs besides.
struct Case {
  std::string name;            ///< "waiting-for-act"
  clinical::CasePlan plan;
  Instant as_of{};
  std::string paper = "A4";
  std::string void_reason = {};
  std::string language = "en";
  std::optional<CodeKind> patient_code = {};

  SheetInput input() const;
};

Case waiting_for_act();
Case ready_to_pull();
Case compressing();
Case resting();
Case emergency();           ///< at rest, and the pressure has fallen far
Case rebleed();
/// The rebleed pressed and dry again at 19:15 UTC.
Case dry_again();
/// Sheath in, an INR of which only the day is known.
Case day_only_inr();
Case size_missing();
Case side_contradicted();
Case artery_and_vein();        ///< right artery 6 F resting, left vein 8 F still in
Case withdrawn();
/// The resting case under another name.
Case named(std::string name);
/// Everything there is, at its longest: names, drugs, values, conflicts, alerts.
Case overflowing();
std::vector<Case> all_cases();

Pdf pdf_of_case(const Case&);
/// Runs a program and returns what it prints; a test failure when it fails.
std::string output_of(const std::string& command);
/// Writes bytes to a file in the tests' scratch folder and returns its path.
std::string scratch(const std::string& name, std::string_view bytes);

/// Every text that `lines` says, in order.
std::vector<std::string> texts_of(const SheetLines& lines);
bool says(const SheetLines& lines, std::string_view part);

}  // namespace sheet
