// What senders only named ("look again" at one resource): kept in the store until the record has shown it or said that it is gone, so that neither a kill nor
// a record that does not answer loses it.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "store/store.h"

namespace app {

class Told {
 public:
  static constexpr std::size_t kMost = 5'000;  ///< more are not kept: everything is looked at instead
  static constexpr int kTries = 12;            ///< so often the record is asked; then a person is

  /// Reads what an earlier run was told.
  explicit Told(store::Store&);

  /// Durable when it returns true. False: there are too many, or the store does not take it.
  bool add(const std::vector<std::string>& references);
  bool contains(const std::string& reference) const { return tries_.contains(reference); }
  bool empty() const { return tries_.empty(); }
  std::size_t size() const { return tries_.size(); }
  std::vector<std::string> all() const;
  /// The record has shown it, or has said that it is gone.
  void settled(const std::set<std::string>& references);
  /// It answered nothing of these; those it was asked for too often are given up and returned.
  std::vector<std::string> unanswered(const std::set<std::string>& references);

 private:
  bool keep();

  store::Store& store_;
  std::map<std::string, int> tries_;  ///< by "Type/id"
};

}  // namespace app
