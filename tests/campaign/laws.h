// The laws of the plan, each as a question to one case. An empty answer: the law holds. Otherwise what broke it, for people.
#pragma once

#include <random>
#include <string>

#include "changes.h"

namespace campaign {

struct Question {
  const Case& told;
  const clinical::Protocol& protocol;
  const std::vector<clinical::CasePlan>& plans;   ///< at told.now
  const std::string& view;
  const clinical::Protocol* without_early = nullptr;   ///< the same without early rows; null: it has none
};

std::string twice(const Question&);                               ///< evaluating again changes nothing
std::string any_order(const Question&, std::mt19937&);            ///< facts in any order give the same bytes
std::string shape(const Question&);                               ///< what must hold within one plan
std::string stands_still(const Question&, std::mt19937&);         ///< the same until nextChange, and different at it
std::string wakes_for_nothing(const Question&);                   ///< no law: nextChange is the earliest instant at which the plan could change
std::string time_alone(const Question&);                          ///< a later `now` alone opens no gate that needs a value
std::string nothing_earlier(const Question&, const Change&, Picks, bool& applied);
std::string early_rows_only_shorten(const Question&);             ///< without early rows nothing is earlier
std::string absent_is_not_recorded(const Question&, Picks);       ///< class (d): a risk recorded as absent changes no time

/// Which instants moved earlier, of removal, compression and rest; a null instant is later than any.
std::string moved_earlier(const std::vector<clinical::CasePlan>& before, const std::vector<clinical::CasePlan>& after, bool hold_too, bool lengths_too = true);

/// How many of the answers to stands_still found no difference at nextChange (a wake-up for nothing), of how many.
struct Wakes {
  long asked = 0, idle = 0;
};
extern Wakes wakes;

}  // namespace campaign
