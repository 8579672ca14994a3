// Which laboratory value can clear which drug. A value opens only gates of drugs it measures; a bad one closes gates whatever the drug.
// Sources: labels (enoxaparin US 2.6: neither PT nor aPTT), Garcia et al. ACCP 2012, the rest from memory or common practice.
#pragma once

#include "clinical/facts.h"

namespace clinical {

enum class Tells {
  nothing,  ///< a normal value says nothing about the drug
  partly,   ///< qualitative or one of several: opens nothing alone
  clears    ///< a value under the limit clears it
};

/// `anti_xa` is the heparin-calibrated assay: for oral anti-Xa drugs it tells presence only.
constexpr Tells tells(Analyte test, Agent drug) {
  using enum Agent;
  switch (drug) {
    case heparin: return test == Analyte::act || test == Analyte::aptt || test == Analyte::anti_xa ? Tells::clears : Tells::nothing;
    case bivalirudin: case argatroban: return test == Analyte::act || test == Analyte::aptt ? Tells::clears : Tells::nothing;
    case enoxaparin: case dalteparin: case tinzaparin: return test == Analyte::anti_xa ? Tells::clears : Tells::nothing;
    case apixaban: case rivaroxaban: case edoxaban: return test == Analyte::anti_xa ? Tells::partly : Tells::nothing;
    case dabigatran: return test == Analyte::aptt ? Tells::partly : Tells::nothing;
    case warfarin: case vitamin_k: case prothrombin_complex: return test == Analyte::inr ? Tells::clears : Tells::nothing;
    case alteplase: case tenecteplase: case reteplase:
      return test == Analyte::fibrinogen ? Tells::clears : test == Analyte::aptt ? Tells::partly : Tells::nothing;
    case eptifibatide: case tirofiban: case abciximab: return test == Analyte::platelets ? Tells::partly : Tells::nothing;
    default: return Tells::nothing;
  }
}

}  // namespace clinical
