#include "clinical/liver.h"

namespace clinical {

Liver liver_of(const Evidence& evidence) {
  Liver liver;
  liver.disease = evidence.risk(RiskKind::liver_disease);
  const Micro limit = evidence.protocol.argatroban_transaminase.micro;
  for (const Analyte analyte : {Analyte::alanine_aminotransferase, Analyte::aspartate_aminotransferase}) {
    const auto last = newest(evidence, analyte, Worse::higher);
    if (!last) continue;
    liver.tested = true;
    if (!liver.high && last->any([&](const Value& v) { return !v.surely_below(limit); })) liver.high = last;
  }
  liver.tested |= !evidence.measurements(Analyte::bilirubin).empty();
  return liver;
}

}  // namespace clinical
