#include "mutants_gates_support.h"

#include <algorithm>

namespace clinical {

void expect_said(const std::vector<SaidRow>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Bedside bed = ready();
    if (row.change) row.change(bed);
    const auto gate = bed.gate(row.gate, row.now);
    EXPECT_EQ(gate ? say(*gate) : "absent", row.says);
  }
}

void drop(Bedside& bed, std::initializer_list<Analyte> analytes) {
  std::erase_if(bed.facts.measurements, [&](const Measurement& m) { return std::ranges::find(analytes, m.analyte) != analytes.end(); });
}
void without_heparin(Bedside& bed) { bed.facts.administrations.clear(); }
void without_list(Bedside& bed) { bed.facts.home_lists.clear(); }

}  // namespace clinical
