// Parts of a plan as one line of text each, so that a test can state all that is said at once and not only one member of it.
// Instants are times of 2 March 2026 ("15:10", "15:10:01"), others with their day before them ("-1d 15:00"); sources without "Test/".
#pragma once

#include <string>
#include <vector>

#include "course_support.h"

namespace clinical {

std::string say(Instant);
std::string say(const std::optional<Instant>&);      ///< none: "-"
std::string say(const Reason&);                      ///< "gate.act.draw{dose=12:05 limit=150 s}"
std::string say(const std::vector<Source>&);         ///< "1 14", in their order

/// "closed opens 15:16 until 15:30 since 15:00 clock 18:10 asks act,analyser seen '140 s' | why | rule | from 1 3": what is empty is left out.
std::string say(const Gate&);
/// "due 15:00 expected 15:10 latest 15:30 actual 15:02 20min t0+360 released late | why": likewise; `expected` only where it is not
/// `earliest`, "from 15:00" where there is none.
std::string say(const Milestone&);
/// "rest.artery.per-french rest.base{french=6 each=1h total=6h} from Procedure/p1"
std::string say(const Basis&);
std::vector<std::string> say(const std::vector<Basis>&);
/// "urgent Procedure/p1 since 15:45 | why | from 20"
std::string say(const Alert&);
std::string say(const Missing&);                     ///< "act laboratory blocks remove-sheath Procedure/p1"
std::string say(const Conflict&);                    ///< "side groin-claimed-twice [left right] from 3 4 Procedure/p1"

/// All milestones of one step of the first site.
std::vector<std::string> say(const CasePlan&, Step);
const Alert* find_alert(const CasePlan&, std::string_view trigger);

}  // namespace clinical
