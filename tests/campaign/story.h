// Random cases as short rows of numbers, so that a failure can be made smaller and played again: every row tells a few facts of an invented patient.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "clinical/facts.h"
#include "clinical/protocol.h"

namespace campaign {

/// The choices behind one piece of a case. Zero is always the plainest choice, so smaller numbers make a plainer case.
using Deed = std::array<std::uint16_t, 16>;

/// The first kFixed deeds are the patient, the procedure, the course of its site and the instant; each later one adds what it likes.
struct Story {
  std::vector<Deed> deeds;
};
constexpr std::size_t kFixed = 4;

struct Case {
  clinical::Record record;
  clinical::Instant now;
};

/// Pure: the same story and protocol tell the same case. The protocol is only asked for what a clinician would be asked, so that some deeds can answer it.
Case tell(const Story&, const clinical::Protocol&);

/// The record with only what had happened by `now`: nothing in it comes true later. Procedures, their encounter and sites stay.
clinical::Record known_by(clinical::Record, clinical::Instant now);

/// Takes the choices of a deed one after the other; plain choices when they run out.
class Picks {
 public:
  explicit Picks(const Deed& deed) : deed_(deed) {}
  int below(int n) { return at_ < deed_.size() ? deed_[at_++] % n : 0; }
  /// 0: no. True for one of n.
  bool one_in(int n) { return below(n) == n - 1; }
  template <class T, std::size_t N>
  const T& of(const T (&list)[N]) { return list[static_cast<std::size_t>(below(static_cast<int>(N)))]; }

 private:
  const Deed& deed_;
  std::size_t at_ = 0;
};

}  // namespace campaign
