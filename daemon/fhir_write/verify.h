// What a server made of a transaction, and which resources are ours.
#pragma once

#include <boost/system/result.hpp>

#include <optional>
#include <string>
#include <vector>

#include "clinical/change.h"
#include "json/tree.h"

namespace fhir_write {

/// One entry of a transaction as the server has it now.
struct Placed {
  std::string identity;  ///< UUID of the item, from the request: its identifier, else its fullUrl
  std::string type, id;
  std::string version;   ///< may be empty
  std::string etag;      ///< as the server wrote it; W/"version" where it gave only a version
  int status = 0;        ///< 200, 201
};

/// Entry by entry, in the request's order. Fault (a sentence): the answer is no transaction-response, has another number of entries, an entry
/// without id, one that is no success, one that is about another resource than was asked, or a place twice: then nothing may be taken as known.
boost::system::result<std::vector<Placed>, std::string> placed(const json::Value& request_bundle, const json::Value& response_bundle);

/// A resource as we sent it, with each reference and url that named an entry of the same transaction pointing to where the server put it.
/// What stands on the server must be kept so: the urn:uuid: means nothing in a later transaction.
json::Value resolved(json::Value resource, const std::vector<Placed>&);

/// UUID under which we wrote this resource; none where it is not ours.
std::optional<std::string> own_identity(const json::Value& resource);
/// Which item of its case it says it is (extension item-key), so that a store that has lost its memory can know it again. Believe it only where
/// identity() of that key is the resource's own identity. None: not ours, or from before the extension.
std::optional<clinical::ItemKey> own_key(const json::Value& resource);
void set_own_key(json::Value& resource, const clinical::ItemKey&);
/// How an item of ours stands, judged by its content alone, where the version we wrote last is not known. `owners`: references that we write, none where
/// we write none. A Task is open only where nothing shows that somebody took it on; cancelled with a reason in words and no trace of a person is withdrawn by us.
clinical::Stands stands_by_content(const json::Value& resource, const std::vector<std::string>& owners);
/// A DetectedIssue that is settled, cancelled or entered in error.
bool is_ended_issue(const json::Value& resource);
/// Installation in meta.tag; empty where there is none.
std::string written_by(const json::Value& resource);

}  // namespace fhir_write
