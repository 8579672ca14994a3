// Facts stamped a little ahead of now: a bedside clock may run fast by case.future-tolerance. What is bad counts at once, what is good waits for
// its time; what lies further ahead is a conflict. A bad fact keeps the time it was recorded with.
#pragma once

#include "clinical/facts.h"
#include "clinical/protocol.h"

namespace clinical {

class Ahead {
 public:
  Ahead(const Record& record, const Protocol& protocol, const Clock& clock) : record_(record), p_(protocol), clock_(clock) {}

  /// True by now; a bad one also within the tolerance. An untimed one counts. `bad` is only asked where the time has not come.
  template <class Bad>
  bool counts(const std::optional<Moment>& at, Bad bad) const {
    if (!at || clock_.reached(at->earliest)) return true;
    return bad() && clock_.reached(at->earliest - p_.future_tolerance.span());
  }
  /// Would close a gate, raise an alert, or lengthen.
  bool bad(const SiteCheck&) const;
  bool bad(const Measurement&) const;
  bool bad(const Administration&) const;
  /// A kind of event that voids a T0 which stands.
  static bool voids(AccessEventKind);

 private:
  bool fallen(const Measurement&, Micro by, bool from_open_range) const;
  bool risen(const Measurement&) const;

  const Record& record_;
  const Protocol& p_;
  const Clock& clock_;
};

}  // namespace clinical
