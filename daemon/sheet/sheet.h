// The bedside sheet: one plan on paper.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "clinical/plan.h"
#include "clinical/protocol.h"
#include "sheet/barcode.h"
#include "sheet/fonts.h"
#include "sheet/layout.h"
#include "words/words.h"

namespace sheet {

using clinical::Instant;

/// References must live as long as the call. Instants are UTC; `where` says in which zone they are printed and for which day without a date.
struct SheetInput {
  const clinical::CasePlan& plan;
  const clinical::Protocol& protocol;
  const words::Words& words;
  const Layout& layout;
  words::Context where;
  Instant as_of{};                       ///< the instant the plan was computed for
  int number = 1;                        ///< of the case's sheets, from 1
  struct Earlier {
    int number = 0;
    Instant at{};
  };
  std::optional<Earlier> supersedes{};
  std::optional<Instant> printed_at{};    ///< none: a blank to be filled in
  std::string installation{}, plan_hash{};
  std::optional<CodeKind> patient_code{}; ///< the record number as a code for scanners; none: not printed
  bool rehearsal = false;                ///< the clock is simulated: printed across the page, as is test data and an unapproved protocol
  std::string void_reason{};              ///< not empty, or a withdrawn case: a VOID sheet that tells to take the others away
};

struct Pdf {
  std::string bytes;
  int pages = 0;
  std::vector<std::string> warnings;     ///< for people: a name that could not be printed, a letter replaced
};
/// No sheet could be made; nothing was changed.
struct Refusal {
  std::string text;
};

/// Pure: the same input and fonts give the same bytes. Nothing is cut or left out; what does not fit goes on a further page with the same head.
/// A name with a letter that no font has is not printed: the record number stands in its place, with a warning on paper and in `warnings`.
std::variant<Pdf, Refusal> render(const SheetInput&, const Fonts&);

}  // namespace sheet
