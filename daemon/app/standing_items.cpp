#include "app/standing_items.h"

#include <array>
#include <charconv>

#include "clinical/names.h"
#include "json/tree.h"

namespace app {
namespace {

using clinical::Stands;
using clinical::Standing;
using store::Item;

constexpr std::array<std::pair<Stands, std::string_view>, 6> kStates{{{Stands::open, "open"},
                                                                      {Stands::claimed, "claimed"},
                                                                      {Stands::completed, "completed"},
                                                                      {Stands::failed, "failed"},
                                                                      {Stands::rejected, "rejected"},
                                                                      {Stands::withdrawn, "withdrawn"}}};

std::string_view name_of(Stands state) {
  for (const auto& [value, name] : kStates)
    if (value == state) return name;
  return "open";
}
std::optional<Stands> state_named(std::string_view name) {
  for (const auto& [value, text] : kStates)
    if (text == name) return value;
  return std::nullopt;
}

/// Item::extra holds three lines: the key, when it ended (milliseconds, or empty), by whom it was touched.
struct Extra {
  std::string key, ended, by;
};
std::string text_of(const Extra& extra) { return extra.key + "\n" + extra.ended + "\n" + extra.by; }
Extra extra_from(std::string_view text) {
  Extra extra;
  for (std::string* part : {&extra.key, &extra.ended}) {
    const auto end = text.find('\n');
    *part = text.substr(0, end);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  extra.by = text;
  return extra;
}

std::optional<Millis> number_in(std::string_view text) {
  Millis value = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || read.ec != std::errc{}) return std::nullopt;
  return value;
}

void put(std::string& out, std::string_view field) {
  out += std::to_string(field.size());
  out += ':';
  out += field;
}
std::string take(std::string_view& text) {
  const auto colon = text.find(':');
  if (colon == std::string_view::npos) return {};
  const auto size = static_cast<std::size_t>(number_in(text.substr(0, colon)).value_or(0));
  std::string field(text.substr(colon + 1, size));
  text.remove_prefix(std::min(text.size(), colon + 1 + size));
  return field;
}

}  // namespace

std::vector<Standing> standing_of(const std::vector<Item>& items) {
  std::vector<Standing> standing;
  for (const Item& item : items) {
    const Extra extra = extra_from(item.extra);
    const auto key = clinical::key_from(extra.key);
    const auto state = state_named(item.status);
    if (!key || !state) continue;
    Standing one{*key, item.intended_hash, *state, extra.by, std::nullopt};
    if (const auto ended = number_in(extra.ended)) one.ended = clinical::Instant{std::chrono::seconds{*ended / 1000}};
    standing.push_back(std::move(one));
  }
  return standing;
}

std::map<clinical::ItemKey, fhir_write::OnServer> on_server(const std::vector<Item>& items) {
  std::map<clinical::ItemKey, fhir_write::OnServer> known;
  for (const Item& item : items) {
    const auto key = clinical::key_from(extra_from(item.extra).key);
    if (!key || !state_named(item.status)) continue;
    fhir_write::OnServer one{item.server_id, item.etag, {}};
    if (auto body = json::parse(item.body); body.has_value()) one.body = std::move(*body);
    known.insert_or_assign(*key, std::move(one));
  }
  return known;
}

Item row_of(const Standing& standing, const std::string& case_key, const std::string& identity, const std::string& type) {
  Item item;
  item.identity = identity;
  item.case_key = case_key;
  item.type = type;
  item.step = standing.key.step ? std::string(clinical::name_of(*standing.key.step)) : "";
  item.ordinal = standing.key.ordinal;
  item.intended_hash = standing.fingerprint;
  item.intended_status = item.status = name_of(standing.state);
  item.claimed = standing.state == Stands::claimed;
  const std::string ended = standing.ended ? std::to_string(standing.ended->time_since_epoch().count() * 1000) : "";
  item.extra = text_of(Extra{clinical::text_of(standing.key), ended, standing.claimed_by});
  return item;
}

std::optional<clinical::ItemKey> key_of(const Item& item) { return clinical::key_from(extra_from(item.extra).key); }

void mark_touched(Item& item, std::string_view task_status, const std::string& by, std::optional<Millis> ended) {
  Stands state = Stands::claimed;
  if (task_status == "completed") state = Stands::completed;
  if (task_status == "failed") state = Stands::failed;
  if (task_status == "rejected" || task_status == "cancelled" || task_status == "entered-in-error") state = Stands::rejected;
  item.status = name_of(state);
  item.claimed = true;
  Extra extra = extra_from(item.extra);
  extra.by = by;
  extra.ended = ended && state != Stands::claimed ? std::to_string(*ended) : "";
  item.extra = text_of(extra);
}

std::string text_of(const std::vector<Item>& items) {
  std::string out;
  for (const Item& item : items) {
    for (const std::string* field : {&item.identity, &item.case_key, &item.type, &item.step, &item.window, &item.intended_hash, &item.intended_status,
                                     &item.server_id, &item.etag, &item.status, &item.body, &item.extra})
      put(out, *field);
    put(out, std::to_string(item.ordinal));
    put(out, item.claimed ? "1" : "0");
  }
  return out;
}

std::vector<Item> items_from(std::string_view text) {
  std::vector<Item> items;
  while (!text.empty()) {
    Item item;
    for (std::string* field : {&item.identity, &item.case_key, &item.type, &item.step, &item.window, &item.intended_hash, &item.intended_status,
                               &item.server_id, &item.etag, &item.status, &item.body, &item.extra})
      *field = take(text);
    item.ordinal = number_in(take(text)).value_or(0);
    item.claimed = take(text) == "1";
    items.push_back(std::move(item));
  }
  return items;
}

}  // namespace app
