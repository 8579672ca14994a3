// What the writer must know beside the plan: whose installation, which record, how the site maps its units, what stands on the server.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "clinical/change.h"
#include "clinical/protocol.h"
#include "fhir/labels.h"
#include "json/tree.h"
#include "words/words.h"

namespace fhir_write {

/// "Type/id" with a display, or only one of the two. Both empty: not known, nothing is written.
struct Named {
  std::string reference, display;
};

/// An item as it stands on the server.
struct OnServer {
  std::string id;         ///< server id; empty: never confirmed, or files
  std::string etag;       ///< as the server gave it: W/"3"
  json::Value body;       ///< the resource as we last wrote it; needed to change its status
};

enum class Form {
  file,    ///< every item PUT under its own UUID, no shell, no ifMatch
  record   ///< the fence: PUT CarePlan under ifMatch first, new items POST
};

struct WriterContext {
  const clinical::Protocol& protocol;
  const words::Words& words;
  words::Context words_context;  ///< of the zone only is made use: every time in the record carries its date
  std::string language;          ///< BCP 47, of the words
  std::string version;           ///< of this program
  std::string installation;      ///< goes into meta.tag and the Device that asks
  std::string record_key;        ///< base_url as first stored, or "offline": part of every identity, kept for ever
  std::string case_identity;     ///< case_identity_of(plan) as first stored; empty: taken from the plan
  std::string plan_hash;
  Form form = Form::file;
  bool test_data = false;        ///< what is written carries HTEST
  std::string confidentiality{}; ///< code of v3-Confidentiality, the highest of what the plan rests on; empty: nothing is labelled
  std::vector<fhir::Label> sensitivity{};  ///< every other label that what the plan rests on carries and that what is made of it must carry too
  bool rehearsal = false;        ///< under a simulated clock: said in every text
  bool ready_tasks = false;      ///< Tasks start as `ready`, not `requested`
  bool inline_pdf = false;       ///< attachment.data instead of a Binary
  bool page = false;             ///< an XHTML page of the plan in place of the PDF, inside the DocumentReference
  bool tasks_elsewhere = false;  ///< CarePlan and Tasks do not stand where the document does: it names them by identifier
  bool versioned_inputs = true;  ///< false: the record refuses references to versions; they stay in what.display
  clinical::Instant now{};
  struct InOtherHands {
    std::string title, who;      ///< of the Task; who has it, may be empty
  };
  std::vector<InOtherHands> in_other_hands{};  ///< Tasks that somebody of a unit the patient has left still has
  Named owner{}, bed{}, organization{}, order{};  ///< unit, Location, hospital, the clinician's order that stands behind the plan
  Named author{};                ///< of documents; both empty: this installation
  std::string document_type{}, document_category{};  ///< "system|code|display"; empty: our own
  std::map<clinical::ItemKey, OnServer> on_server{};
  std::vector<clinical::Item> held_back{};  ///< Tasks that wait for their turn, the earliest first: see app/task_limit.h
  std::int64_t tasks_per_hour = 0;          ///< of which limit, where any are
  bool group_held_back = false;             ///< the last Task that is given names them
  std::optional<clinical::ItemKey> last_given{};  ///< that Task
  std::optional<clinical::ItemKey> care_plan{};  ///< the one that stands after the write; transaction() fills it in

  const OnServer* standing(const clinical::ItemKey& key) const {
    const auto found = on_server.find(key);
    return found == on_server.end() ? nullptr : &found->second;
  }
};

}  // namespace fhir_write
