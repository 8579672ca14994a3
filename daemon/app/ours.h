// Events about what we wrote: the echo of our own write, somebody's touch, a deletion, or an item that this store has forgotten.
#pragma once

#include "app/rules.h"
#include "app/take_event.h"
#include "json/tree.h"
#include "store/store.h"

namespace app {

class Ours {
 public:
  explicit Ours(const Rules& rules) : rules_(rules) {}

  /// In the version we confirmed it is no news; in another version somebody has touched it. An item that the store does not know is taken over where
  /// its own key gives its identity in a case of its patient (an empty store, or an older copy of it put back).
  store::Result<void> recognise(store::Store&, const store::Event&, Taken&);
  /// Without a record: a Task "print the sheet" of ours that somebody sends back completed. Any other is a fact like all, and no item.
  store::Result<void> recognise_paper(store::Store&, const store::Event&, Taken&);
  /// The item stands as `resource` says, in a version that is not ours.
  store::Result<void> touched(store::Store&, store::Item, const json::Value& resource);
  /// Another installation has its tag on this CarePlan, or somebody has ended it or put it on hold: kept with the case, which then writes nothing.
  void note_writer(store::Case&, const json::Value& care_plan) const;

 private:
  bool not_the_one_served(store::Store&, const store::Event&) const;
  store::Result<void> deleted(store::Store&, const store::Event&, Taken&);
  store::Result<void> adopt(store::Store&, const store::Event&, const json::Value& resource, const std::string& identity, Taken&);
  store::Result<void> remembered(store::Store&, store::Item, const json::Value& resource);
  store::Result<void> care_plan_at(store::Store&, const store::Item&, const json::Value* resource);
  store::Result<void> moves(store::Store&, const std::string& case_key, const store::Event&, Taken&, const char* why);

  const Rules& rules_;
};

}  // namespace app
