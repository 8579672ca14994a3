#include "app/record_search.h"

#include <algorithm>
#include <charconv>
#include <iterator>
#include <map>
#include <set>
#include <utility>

#include "app/take_event.h"
#include "fhir/digest.h"
#include "fhir_read/intake.h"
#include "fhir_read/searchset.h"
#include "fhir_write/verify.h"
#include "json/tree.h"
#include "transport/retry_after.h"

namespace app {
namespace {

using transport::Response;

store::NewEvent event_of(const json::Value& resource, std::string body) {
  store::NewEvent event;
  event.method = "PUT";
  event.resource_type = std::string(resource["resourceType"].text());
  event.resource_id = std::string(resource["id"].text());
  event.version_id = std::string(resource["meta"]["versionId"].text());
  event.content_hash = fhir::sha256_hex(body);
  event.body = std::move(body);
  event.request_id = "read again";
  return event;
}

store::NewEvent deletion_of(const std::string& path) {
  store::NewEvent event;
  event.method = "DELETE";
  event.resource_type = path.substr(0, path.find('/'));
  event.resource_id = path.substr(path.find('/') + 1);
  event.request_id = "read again";
  return event;
}

/// The record will not take this search, now or later (404: it does not know the type; FHIR, RESTful API, "search"); anything else that is no answer may pass: a
/// 400 of a proxy, a 404 of one whose record is starting.
bool is_refusal(const Response& response) {
  if (response.status == 405 || response.status == 406 || response.status == 501) return true;
  if (response.status != 400 && response.status != 404) return false;
  const auto body = json::parse(response.body);
  return body.has_value() && (*body)["resourceType"].text() == "OperationOutcome";
}

bool is_in_error(const json::Value& resource) {
  const auto says_so = [](const json::Value& coding) { return coding["code"].text() == "entered-in-error"; };
  return fhir_read::status_of(resource) == "entered-in-error" || std::ranges::any_of(resource["verificationStatus"]["coding"].items(), says_so);  // Condition, AllergyIntolerance
}

Found note_of(const fhir_read::SearchedFor& what, bool kept) {
  store::NewEvent event;
  auto note = fhir_read::kept_back(what, kept);
  if (kept) event = event_of(note.body, json::write(note.body));
  else event = deletion_of(note.type + "/" + note.id);
  return {std::move(event), "", ""};
}

bool is_later(const std::string& at, const std::string& than) { return !at.empty() && (than.empty() || fhir_read::compare_instants(at, than).value_or(0) > 0); }

/// "/fhir" of "https://record.example/fhir".
std::string path_of(const std::string& base_url) {
  const auto slash = base_url.find('/', base_url.find("://") + 3);
  return slash == std::string::npos ? "" : base_url.substr(slash);
}

/// The same search in pages of a quarter of the size; empty: they cannot be smaller. Only of a search's first page: a server's own links count in pages of their size.
std::string in_smaller_pages(const std::string& path) {
  constexpr std::string_view key = "_count=";
  constexpr int unsaid = 25;  // where a search leaves the size to the server
  const auto at = path.find(key);
  if (path.find('?') == std::string::npos) return {};
  if (at == std::string::npos) return path + "&_count=" + std::to_string(unsaid);
  const auto from = at + key.size(), to = std::min(path.find('&', from), path.size());
  int count = 0;
  std::from_chars(path.data() + from, path.data() + to, count);
  if (count < 2) return {};
  return path.substr(0, from) + std::to_string(std::max(1, count / 4)) + path.substr(to);
}

bool is_history(const std::string& path) { return path.find("/_history?") != std::string::npos; }

/// "Procedure/p" of an entry of a history; empty: it is about nothing that can be named.
std::string subject_of_entry(const json::Value& entry) {
  const auto& resource = entry["resource"];
  if (!resource.is_null()) return std::string(resource["resourceType"].text()) + "/" + std::string(resource["id"].text());
  std::string url(entry["request"]["url"].text());  // relative; some write the whole address
  if (const auto history = url.find("/_history"); history != std::string::npos) url.resize(history);
  const auto slash = url.rfind('/');
  if (slash == std::string::npos || slash == 0) return {};
  const auto before = url.rfind('/', slash - 1);
  return before == std::string::npos ? url : url.substr(before + 1);
}

/// The newest that a history says of one resource.
struct Last {
  bool deleted;
  std::string version, changed;
};

/// By time first: what is made again after a deletion may begin to count anew.
bool is_after(const Last& a, const Last& b) {
  if (const auto order = fhir_read::compare_instants(a.changed, b.changed).value_or(0); order != 0) return order > 0;
  return compare_versions({a.version, {}}, {b.version, {}}).value_or(0) > 0;
}

Last last_of(const json::Value& entry) {
  const auto& resource = entry["resource"];
  const auto text = [](std::string_view first, std::string_view second) { return std::string(first.empty() ? second : first); };
  std::string etag(entry["response"]["etag"].text());
  std::erase_if(etag, [](char c) { return c == '"' || c == 'W' || c == '/'; });
  return {entry["request"]["method"].text() == "DELETE", text(resource["meta"]["versionId"].text(), etag), text(resource["meta"]["lastUpdated"].text(), entry["response"]["lastModified"].text())};
}

class Searching : public std::enable_shared_from_this<Searching> {
 public:
  Searching(RecordGet get, RecordSearch what, SearchDone done) : get_(std::move(get)), what_(std::move(what)), done_(std::move(done)) {}

  void next() {
    if (what_.overflow && held_ > what_.hold_bytes) return hand_over();
    if (next_ == what_.paths.size()) {
      conclude();
      return done_(std::move(result_));
    }
    const std::string path = what_.paths[next_++];
    is_page_ = std::exchange(page_follows_, false);
    if (!is_page_) search_ = path, pages_ = 0, idle_pages_ = 0, total_ = 0, shown_.clear(), matches_.clear();
    if (!asked_.insert(path).second) {
      not_whole("pages in a circle");
      return next();
    }
    if (++pages_ > what_.pages) {
      result_.cut = result_.whole;
      not_whole("more than " + std::to_string(what_.pages) + " pages");
      return next();
    }
    get_(path, [self = shared_from_this(), path](const Response* response) {
      self->take(path, response);
      self->next();
    });
  }

 private:
  /// What the searches for one type about one patient say together.
  struct Kept {
    bool back = false;    ///< something is kept back
    bool proven = true;   ///< all was asked for and answered
  };

  void conclude() {
    conclude_history();
    if (what_.ours_only) return;
    for (const auto& [about, kept] : kept_)
      if (kept.back || kept.proven) result_.notes.push_back(note_of({about.first, about.second, false}, kept.back));
  }

  Kept* kept_of_search() {
    const auto what = fhir_read::searched_for(search_);
    if (what.patient.empty() || what.type.empty()) return nullptr;
    Kept& kept = kept_[{what.type, what.patient}];
    if (search_.find("&_lastUpdated=") != std::string::npos) kept.proven = false;
    return &kept;
  }

  void hand_over() {
    held_ = 0;
    std::vector<Found> full;
    for (std::size_t at = result_.taken; at < result_.found.size(); ++at) {
      Found& one = result_.found[at];
      std::string body = std::exchange(one.event.body, {});
      full.push_back(one);
      full.back().event.body = std::move(body);
    }
    result_.taken = result_.found.size();
    what_.overflow(std::move(full), [self = shared_from_this()](bool well) {
      if (!well) self->not_whole("what it answered could not be kept");
      self->next();
    });
  }

  void take(const std::string& path, const Response* response) {
    page_taken_ = false;
    take_answer(path, response);
    if (Kept* kept = kept_of_search(); kept && !page_taken_) kept->proven = false;
  }

  void take_answer(const std::string& path, const Response* response) {
    if (path.find('?') == std::string::npos) result_.single_status[path] = response ? response->status : 0;
    if (!response) {
      result_.silent.insert(type_of_search());
      return not_whole("no answer");
    }
    if (response->status == kTooLarge) return ask_for_less();
    if (result_.date.empty()) result_.date = std::string(response->headers.get("Date").value_or(""));
    const bool one = path.find('?') == std::string::npos;
    if (one && response->status == 410) return result_.found.push_back({deletion_of(path), "", ""});
    if (one && response->status == 404) return;
    if (one && response->status == 403) return result_.withheld.push_back(path);
    if (is_page_ && response->status != 200) return not_whole("a further page was answered " + std::to_string(response->status));  // a page goes out of date
    // A record without histories may answer 404 with nothing; a proxy's page is none of its answers.
    const bool no_history = is_history(path) && response->status == 404 && response->body.find_first_not_of(" \t\r\n") == std::string::npos;
    if (!one && (is_refusal(*response) || no_history)) return void(result_.refused.emplace_back(path, response->status));
    // 401 for one search, where the token is good for others (auth/): as little ours to see as with 403.
    if (!one && (response->status == 403 || (response->status == 401 && path.find("?patient=") != std::string::npos))) {
      if (Kept* kept = kept_of_search()) kept->back = true;  // as where it says so among its entries
      return result_.withheld.push_back(path);
    }
    if (response->status != 200) return not_whole("answered " + std::to_string(response->status));
    auto body = json::parse(response->body);
    if (body.has_error()) return not_whole(response->body.empty() ? "answered 200 with nothing" : "answered with what is no JSON");
    const auto type = (*body)["resourceType"].text();
    if (one && type != path.substr(0, path.find('/'))) return not_whole("answered with another resource");
    if (one) {
      take_resource(*body, response->body);
      result_.found.back().alone = true;
      return;
    }
    if (type != "Bundle") return not_whole("answered with what is no searchset");
    take_page(*body);
  }

  void take_page(const json::Value& bundle) {
    page_taken_ = true;
    count_idle(bundle);
    if (is_history(search_)) take_history(bundle);
    else take_matches(bundle);
    bool goes_on = false;
    for (const auto& link : bundle["link"].items())
      if (link["relation"].text() == "next") goes_on = true, follow(std::string(link["url"].text()));
    // total: matches on all pages (FHIR R4, Bundle.total); some say it on the first page only.
    total_ = std::max(total_, bundle["total"].integer().value_or(0));
    if (!goes_on && !is_history(search_) && std::cmp_less(matches_.size(), total_))
      not_whole("says that there are " + std::to_string(total_) + " and shows " + std::to_string(matches_.size()));
  }

  /// Newest first (FHIR R4, RESTful API, "history"), but where versions or times say otherwise: what was deleted and made again is not gone.
  void take_history(const json::Value& bundle) {
    for (const auto& entry : bundle["entry"].items()) {
      const std::string subject = subject_of_entry(entry);
      if (subject.empty()) continue;
      Last now = last_of(entry);
      const auto [at, first] = last_.emplace(subject, now);
      if (!first && is_after(now, at->second)) at->second = std::move(now);
    }
  }

  void conclude_history() {
    for (const auto& [subject, last] : last_) {
      Found one{deletion_of(subject), "", last.changed};
      one.event.version_id = last.version;
      if (!last.deleted) one.event.method = "PUT";
      (last.deleted ? result_.found : result_.standing).push_back(std::move(one));
    }
  }

  void take_matches(const json::Value& bundle) {
    bool kept_back = fhir_read::labelled_in_part(bundle);
    for (const auto& entry : bundle["entry"].items()) {
      const auto& resource = entry["resource"];
      if (entry["search"]["mode"].text() == "outcome" || resource["resourceType"].text() == "OperationOutcome") {
        const auto outcome = fhir_read::outcome_brief(resource);
        kept_back = kept_back || outcome.kept_back;
        if (outcome.error) not_whole("answered with a part, and an error in it");
        continue;
      }
      if (entry["search"]["mode"].text() != "include") matches_.insert(std::string(resource["resourceType"].text()) + "/" + std::string(resource["id"].text()));
      if (what_.ours_only && !fhir_write::own_identity(resource)) continue;
      take_resource(resource, json::write(resource));
      if (entry["search"]["mode"].text() != "include") note_whose(resource);
    }
    if (Kept* kept = kept_of_search(); kept && kept_back) kept->back = true;
  }

  /// Whose it is, where it is somebody else's than was asked for.
  void note_whose(const json::Value& resource) {
    const std::string asked_for = fhir_read::searched_for(search_).patient, about = fhir_read::subject_of(resource, what_.base_url).patient;
    if (asked_for.empty() || about.empty() || about == asked_for) return;
    result_.found.back().asked_for = asked_for;
    result_.found.back().about = about;
  }

  void take_resource(const json::Value& resource, std::string body) {
    const std::string at(resource["meta"]["lastUpdated"].text());
    if (at.empty() || is_later(result_.newest, at)) result_.ascending = false;
    if (is_later(at, result_.newest)) result_.newest = at;
    held_ += body.size();
    result_.found.push_back({event_of(resource, std::move(body)), fhir_write::own_identity(resource).value_or(""), at, false, clinical_day(resource)});
    result_.found.back().in_error = is_in_error(resource);
  }

  /// From its first page again: what came before is found twice, which harms nothing.
  void ask_for_less() {
    std::string smaller = in_smaller_pages(search_);
    if (smaller.empty()) return not_whole("one answer is larger than is taken");
    what_.paths.insert(what_.paths.begin() + static_cast<std::ptrdiff_t>(next_), std::move(smaller));
  }

  /// A record that answers with the same again and again, under ever new addresses, never ends.
  void count_idle(const json::Value& bundle) {
    const std::size_t before = shown_.size();
    for (const auto& entry : bundle["entry"].items()) {
      const auto& resource = entry["resource"];
      const std::string name = is_history(search_) ? subject_of_entry(entry) : std::string(resource["resourceType"].text()) + "/" + std::string(resource["id"].text());
      const std::string_view version = resource.is_null() ? entry["request"]["method"].text() : resource["meta"]["versionId"].text();
      shown_.insert(name + "/" + std::string(version) + "/" + std::string(resource["meta"]["lastUpdated"].text()));
    }
    idle_pages_ = shown_.size() == before ? idle_pages_ + 1 : 0;
  }

  /// The next page is asked for before the next search.
  void follow(std::string url) {
    if (idle_pages_ >= what_.idle_pages) return not_whole(std::to_string(idle_pages_) + " pages one after the other bring nothing new");
    NextPage next = next_page(std::move(url), what_.base_url, what_.rebase, search_);
    if (!next.refused.empty()) return not_whole(next.refused);
    page_follows_ = true;
    what_.paths.insert(what_.paths.begin() + static_cast<std::ptrdiff_t>(next_), std::move(next.path));
  }

  void not_whole(const std::string& why) {
    result_.whole = false;
    result_.unanswered.insert(type_of_search());
    if (Kept* kept = kept_of_search()) kept->proven = false;
    if (result_.trouble.empty()) result_.trouble = type_of_search() + ": " + why;
  }

  std::string type_of_search() const { return search_.substr(0, search_.find_first_of("/?")); }

  RecordGet get_;
  RecordSearch what_;
  SearchDone done_;
  std::size_t next_ = 0, pages_ = 0, idle_pages_ = 0;
  std::int64_t total_ = 0;                // the greatest that a page of this search has said
  std::string search_;                    // that the pages go on with
  bool is_page_ = false, page_follows_ = false, page_taken_ = false;
  std::map<std::pair<std::string, std::string>, Kept> kept_;  // by type and patient
  std::set<std::string> asked_;
  std::map<std::string, Last> last_;      // of histories, by "Type/id"
  std::set<std::string> matches_;         // of this search: what it was asked for, without what goes along
  std::set<std::string> shown_;           // by the pages of this search: type, id, version
  std::size_t held_ = 0;                  // bytes of bodies
  SearchResult result_;
};

/// Several beside each other. What was handed over stays in front, so that `taken` says the same of the whole.
struct Parts {
  std::size_t open = 0;
  std::vector<SearchResult> ended;
};

SearchResult joined(std::vector<SearchResult> parts) {
  SearchResult all;
  for (const bool taken : {true, false})
    for (SearchResult& part : parts) {
      const auto middle = part.found.begin() + static_cast<std::ptrdiff_t>(part.taken);
      std::move(taken ? part.found.begin() : middle, taken ? middle : part.found.end(), std::back_inserter(all.found));
      if (taken) all.taken += part.taken;
    }
  for (SearchResult& part : parts) {
    std::move(part.notes.begin(), part.notes.end(), std::back_inserter(all.notes));
    std::move(part.standing.begin(), part.standing.end(), std::back_inserter(all.standing));
    all.single_status.merge(part.single_status);
    all.unanswered.merge(part.unanswered);
    all.silent.merge(part.silent);
    all.whole = all.whole && part.whole;
    all.cut = all.cut || part.cut;
    all.ascending = all.ascending && part.ascending;
    std::move(part.refused.begin(), part.refused.end(), std::back_inserter(all.refused));
    std::move(part.withheld.begin(), part.withheld.end(), std::back_inserter(all.withheld));
    if (is_later(part.newest, all.newest)) all.newest = part.newest;
    if (all.trouble.empty()) all.trouble = part.trouble;
    // The earliest: a mark must not be later than the answer that is behind.
    const auto at = transport::seconds_of_http_date(part.date), so_far = transport::seconds_of_http_date(all.date);
    if (at && (!so_far || *at < *so_far)) all.date = part.date;
  }
  return all;
}

}  // namespace

NextPage next_page(std::string url, const std::string& base_url, bool rebase, const std::string& search) {
  // A server behind a proxy may write the name that it knows itself by. The request, and the token with it, goes to the configured base only.
  if (const auto scheme = url.find("://"); rebase && scheme != std::string::npos && !url.starts_with(base_url))
    if (const auto slash = url.find('/', scheme + 3); slash != std::string::npos) url = url.substr(slash);
  if (url.starts_with('?')) return {search.substr(0, search.find_first_of("/?")) + url, ""};  // of the search itself (RFC 3986, 5.2)
  std::string path = url;
  if (url.starts_with(base_url + "/")) path = url.substr(base_url.size() + 1);
  else if (url.starts_with(base_url + "?")) path = "/" + url.substr(base_url.size());  // of the base, without a slash after it
  else if (url.empty() || url.find("://") != std::string::npos || url.starts_with("//")) return {"", "the next page is on another host, which is not asked"};
  else if (url.starts_with('/')) {  // from the host's root
    const std::string root = path_of(base_url) + "/";
    if (!url.starts_with(root)) return {"", "the next page is outside the record's base"};
    path = url.substr(root.size());
  }
  return {path, ""};  // "?page=2": of the base
}

std::string clinical_day(const json::Value& resource) {
  for (const char* name : {"effectiveDateTime", "effectiveInstant", "occurenceDateTime", "performedDateTime", "occurrenceDateTime"})
    if (const auto at = resource[name].text(); at.size() >= 10) return std::string(at.substr(0, 10));
  for (const char* name : {"effectivePeriod", "occurencePeriod", "performedPeriod", "occurrencePeriod"})
    if (const auto at = resource[name]["start"].text(); at.size() >= 10) return std::string(at.substr(0, 10));
  return {};
}

void search(const RecordGet& get, RecordSearch what, SearchDone done) {
  // Searches for one type stay together: what they say of it they say together.
  std::map<std::string, std::size_t> groups;
  const auto group_of = [](const std::string& path) { return path.find('?') == std::string::npos ? path : path.substr(0, path.find('?')); };
  for (const std::string& path : what.paths) groups.emplace(group_of(path), groups.size());
  const std::size_t count = std::min(what.parallel, groups.size());
  if (count < 2) return std::make_shared<Searching>(get, std::move(what), std::move(done))->next();
  const auto all = std::make_shared<Parts>();
  std::vector<RecordSearch> parts(count, what);
  for (std::size_t at = 0; at < count; ++at) parts[at].paths.clear(), parts[at].hold_bytes = what.hold_bytes / count;
  for (std::string& path : what.paths) parts[groups[group_of(path)] % count].paths.push_back(std::move(path));
  all->open = count;
  all->ended.resize(count);
  const auto tell = std::make_shared<SearchDone>(std::move(done));
  for (std::size_t at = 0; at < count; ++at)
    std::make_shared<Searching>(get, std::move(parts[at]), [all, at, tell](SearchResult result) {
      all->ended[at] = std::move(result);
      if (--all->open == 0) (*tell)(joined(std::move(all->ended)));
    })->next();
}

RecordSearch search_for(const store::Case& row, const std::vector<store::Item>& items, const std::string& base_url, bool forgotten) {
  RecordSearch search{{}, base_url, true};
  const std::string patient = row.patient.substr(row.patient.find('/') + 1);
  if (forgotten)
    for (const char* type : {"CarePlan", "Task", "DocumentReference", "GuidanceResponse", "DetectedIssue"}) search.paths.push_back(std::string(type) + "?patient=" + patient + "&_count=100");
  for (const store::Item& item : items)
    if (!item.server_id.empty() && item.status != "withdrawn") search.paths.push_back(item.type + "/" + item.server_id);
  return search;
}

}  // namespace app
