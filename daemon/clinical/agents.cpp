#include "clinical/gates.h"

#include "clinical/laboratory.h"

namespace clinical {

bool is_low_molecular_weight_heparin(Agent a) { return a == Agent::enoxaparin || a == Agent::dalteparin || a == Agent::tinzaparin; }
bool is_direct_oral(Agent a) { return a == Agent::apixaban || a == Agent::rivaroxaban || a == Agent::edoxaban || a == Agent::dabigatran; }
bool is_gp_inhibitor(Agent a) { return a == Agent::eptifibatide || a == Agent::tirofiban || a == Agent::abciximab; }
bool is_fibrinolytic(Agent a) { return tells(Analyte::fibrinogen, a) == Tells::clears; }

bool moves_inr(Agent a) { return tells(Analyte::inr, a) == Tells::clears; }

bool is_antiplatelet(Agent a) {
  switch (a) {
    case Agent::aspirin:
    case Agent::clopidogrel:
    case Agent::prasugrel:
    case Agent::ticagrelor:
    case Agent::cangrelor: return true;
    default: return false;
  }
}

bool is_anticoagulant(Agent a) {
  switch (a) {
    case Agent::heparin:
    case Agent::fondaparinux:
    case Agent::bivalirudin:
    case Agent::argatroban:
    case Agent::warfarin: return true;
    default: return is_low_molecular_weight_heparin(a) || is_direct_oral(a);
  }
}

bool is_coagulation_gate(GateName name) {
  return name == GateName::anticoagulant_history || name == GateName::home_anticoagulants ||
         (name >= GateName::act && name <= GateName::fibrinolytic);
}

}  // namespace clinical
