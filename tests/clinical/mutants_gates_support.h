// One row of what a gate says in full, asked of ready() with a change.
//
// Of ready(): 1 heparin 12:05; 2 list "nothing at home" 09:00; 3 ACT 140 s 15:00; 4 check 15:00; 5 and 6 pressure 130/70 15:00; 7 heart rate 70 15:00;
// 8 platelets 210 08:00; 9 haemoglobin 13.5 08:00; 10 haemoglobin 13.1 14:00; 11 creatinine 1.0, 12 weight 80, 13 height 180, all 08:00. What a row adds: 14, 15.
// Clearance: (140 - 65) * 77.0 / 72 = 80.2 mL/min; 77.0 kg = 74.99 + 0.4 * (80 - 74.99), ideal 50 + 2.3 * (180 / 2.54 - 60).
#pragma once

#include <initializer_list>

#include "mutants_support.h"

namespace clinical {

inline const Instant kNow = hm(15, 5);

struct SaidRow {
  const char* name;
  std::function<void(Bedside&)> change;
  GateName gate;
  Instant now;
  const char* says;   ///< "absent": the gate does not apply
};
void expect_said(const std::vector<SaidRow>&);

void drop(Bedside&, std::initializer_list<Analyte>);
void without_heparin(Bedside&);
void without_list(Bedside&);

}  // namespace clinical
