// Sentences about a plan that record, terminal and paper share. Keys: where.*, sheath.*, when.* (reasons), record.* (texts).
#pragma once

#include <string>
#include <vector>

#include "clinical/plan.h"
#include "words/words.h"

namespace words {

/// A language and where its times are printed; what every speaker passes on.
struct Voice {
  const Words& words;
  Context context;
  std::string say(const clinical::Reason& reason) const { return words.render(reason, context); }
  std::string say(std::string_view key, const Arguments& arguments = {}) const { return words.text(key, arguments, context); }
  std::string term(std::string_view group, std::string_view name) const;
};

/// "RIGHT groin", "LEFT and RIGHT groin"; no keys: side not recorded.
std::string where(const Voice&, const clinical::CasePlan&, const std::vector<std::string>& site_keys);
/// "6 F sheath, femoral artery; 7 F sheath, femoral vein".
std::string sheaths(const Voice&, const clinical::CasePlan&, const std::vector<std::string>& site_keys);
/// "RIGHT groin: 6 F sheath, femoral artery, pressed by hand."
std::string site_line(const Voice&, const clinical::CasePlan&, const clinical::SitePlan&);
/// "platelet count"; "a second haemoglobin, to see a fall".
std::string missing_fact(const Words&, const clinical::Missing&);
/// Whether what a conflict is about needs the name of the fact beside its values: "1.1" alone says nothing, "heparin" does.
bool names_fact(const clinical::Conflict&);
/// "platelet count (ask: laboratory)"; "side: left / right"; "a time lies in the future: INR 1.1".
/// One of a conflict's values in words: a side, vessel or closure by its term, all else as it was recorded.
std::string conflict_value(const Words&, const clinical::Conflict&, const std::string& value);
std::string missing_item(const Voice&, const clinical::Missing&);
std::string conflict_item(const Voice&, const clinical::Conflict&);
/// " Rebled 19:05." for each time, empty where it did not.
std::string rebled_line(const Voice&, const clinical::SitePlan&);
/// "Closer watch because of: rebleed, platelets (not recorded)." Empty under the usual watch.
std::string watch_line(const Voice&, const clinical::SitePlan&);
/// One sentence for each missing and each contradicted fact: what, whose, what it holds up.
std::vector<std::string> open_points(const Voice&, const clinical::CasePlan&);
/// "check groin and foot 3".
std::string step_name(const Voice&, const clinical::Milestone&);
/// Why a step stands as it does: its own reason, then the arithmetic of its basis (not of what is over, nor of a check in its series). May be
/// empty.
std::string step_reason(const Voice&, const clinical::Milestone&);
/// "Next: stand and walk, from 20:30." Empty where nothing is due or timed.
std::string next_act(const Voice&, const clinical::CasePlan&);

/// "ACT projected under 150 s at about 17:30 (...). Next draw 15:00." Empty where nothing is projected.
std::string projection_line(const Voice&, const clinical::SitePlan&);

std::vector<std::string> site_keys(const clinical::CasePlan&);
std::string joined(const std::vector<std::string>&, std::string_view separator);

}  // namespace words
