// Doses of a group of drugs: when each ended, or why that is not known. Flush never counts.
#pragma once

#include <functional>
#include <vector>

#include "clinical/evidence.h"

namespace clinical {

struct DoseEnd {
  enum class Kind {
    ended,         ///< `end` is when the dose or infusion ended
    running,       ///< no end yet: dosing until now
    stop_unknown,  ///< completed, but no end recorded
    time_unknown   ///< given or taken at an unknown time
  };
  Kind kind = Kind::time_unknown;
  Agent agent = Agent::unidentified;
  Route route = Route::unknown;
  Moment end{};
  bool home = false;
  bool infusion = false;
  Source source;
};

using AgentGroup = std::function<bool(Agent)>;
inline AgentGroup only(Agent agent) {
  return [agent](Agent a) { return a == agent; };
}
enum class Home { without, with };

/// In the order of the case; home drugs (taken, told) last. A request or dispense without a last dose tells nothing and is left out.
std::vector<DoseEnd> doses_of(const Evidence&, const AgentGroup&, Home = Home::without);

/// How one administration stands at this instant; none when it is a flush or has not begun.
std::optional<DoseEnd> dose_end(const Evidence&, const Administration&);

/// A home drug that tells what was taken: taken, and with a last dose where only a request or dispense tells of it. Its clinical time is the
/// last dose, else when it was recorded.
bool tells_home(const Evidence&, const HomeDrug&);

/// The end of the last dose; none unless every dose has ended at a recorded time.
std::optional<Moment> last_dose(const std::vector<DoseEnd>&);

/// First dose of a kind, or null.
const DoseEnd* first_of(const std::vector<DoseEnd>&, DoseEnd::Kind);

std::vector<Source> sources_of(const std::vector<DoseEnd>&);

/// When the last clock of several ended doses runs out: latest end + hold. `exact` is false when that dose's time is only known as a span.
struct ClockEnd {
  Instant at{};
  bool exact = true;
  const DoseEnd* dose = nullptr;
  const Setting* hold = nullptr;
};
using HoldOf = std::function<const Setting&(const DoseEnd&)>;
ClockEnd clock_end(const std::vector<DoseEnd>&, const HoldOf&);

}  // namespace clinical
