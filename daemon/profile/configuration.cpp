#include "profile/configuration.h"

#include <date/tz.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <stdexcept>

#include "profile/address.h"
#include "profile/configuration_keys.h"
#include "profile/print_units.h"
#include "profile/site_units.h"
#include "profile/section.h"
#include "profile/subscription_keys.h"

namespace profile {
namespace {

namespace fs = std::filesystem;
using tables::Kind;

bool zone_exists(const std::string& name) {
  try {
    date::locate_zone(name);
    return true;
  } catch (const std::runtime_error&) {
    return false;
  }
}

bool has_templates(const fs::path& data, const std::string& language) {
  if (language.empty() || language.find_first_of("./\\") != std::string::npos) return false;
  return fs::is_directory(data / "templates" / language) || fs::is_directory(data / "templates" / language.substr(0, language.find('-')));
}

/// Reads one file into a Configuration, key by key.
class Reader {
 public:
  Reader(const Item& root, const fs::path& file, const fs::path& data, Configuration& into, Faults& faults)
      : root_(root), file_(file), data_(data), into_(into), faults_(faults) {}

  void read() {
    name_unknown();
    if (root_.find("record")) into_.record.emplace();
    if (root_.find("print")) into_.print.emplace();
    for (const Key& key : configuration_keys()) {
      if (key.name.starts_with("record.") && !into_.record) continue;
      if (key.name.starts_with("print.") && !into_.print) continue;
      read_key(key);
    }
    if (into_.print) PrintUnits{*root_.find("print"), *into_.print, faults_}.read();
    if (const Item* site = root_.find("site"); site && site->is_table()) read_site_units(*site, into_.site, faults_);
    read_together();
    read_subscriptions([this](std::string_view name) { return place_of(name); }, into_, faults_);
  }

 private:
  Place place_of(std::string_view name) const {
    const auto [table_name, key] = table_and_name(name);
    const Item* table = root_.find(table_name);
    const Item* item = table && table->is_table() ? table->find(key) : nullptr;
    return item ? item->at : table ? table->key_at : Place{};
  }

  /// What one key asks of another.
  void read_together() {
    const auto& listen = into_.listen;
    const auto& access = into_.access;
    const auto host = host_of_address(listen.public_address);
    if (host && !is_loopback(*host) && listen.tls_certificate.empty())
      faults_.add(place_of("listen.public"), fmt::format("'listen.public' is \"{}\", not a loopback address, without a certificate", listen.public_address),
                  "name tls_certificate and tls_key, or listen on 127.0.0.1 and put a TLS proxy before it");
    if (host && !is_loopback(*host) && listen.tls_client_ca.empty() && listen.secret_file.empty() && listen.signature_secret_file.empty())
      faults_.add(place_of("listen.public"), fmt::format("'listen.public' is \"{}\", and anybody who reaches it could send facts about patients", listen.public_address),
                  "name tls_client_ca, secret_file or signature_secret_file");
    const auto both = [&](const char* one, bool first, const char* other, bool second) {
      if (first != second) faults_.add(place_of(first ? one : other), fmt::format("'{}' without '{}'", first ? one : other, first ? other : one), "give both or none");
    };
    both("listen.tls_certificate", !listen.tls_certificate.empty(), "listen.tls_key", !listen.tls_key.empty());
    both("access.certificate", !access.certificate.empty(), "access.certificate_key", !access.certificate_key.empty());
    if (!listen.tls_client_ca.empty() && listen.tls_certificate.empty()) faults_.add(place_of("listen.tls_client_ca"), "'listen.tls_client_ca' without 'listen.tls_certificate'", "give tls_certificate and tls_key");
    if (!listen.tls_client_subjects.empty() && listen.tls_client_ca.empty())
      faults_.add(place_of("listen.tls_client_subjects"), "'listen.tls_client_subjects' without 'listen.tls_client_ca'", "name the authorities that issue these certificates");
    const auto needs = [&](std::string_view kind, const char* name, bool there) {
      if (access.kind == kind && !there) faults_.add(place_of("access.kind"), fmt::format("'access.kind' is \"{}\" and '{}' is missing", kind, name), fmt::format("give {}", name));
    };
    needs("bearer", "access.token_file", !access.token_file.empty());
    needs("basic", "access.user", !access.user.empty());
    needs("basic", "access.password_file", !access.password_file.empty());
    needs("backend-services", "access.client_id", !access.client_id.empty());
    needs("backend-services", "access.key_file", !access.key_file.empty());
    read_roster();
    read_history();
    read_categories();
    const std::vector<std::string_view> authors{"Practitioner", "PractitionerRole", "Organization", "Device"};  // of DocumentReference.author, R4, that a site has for this
    if (const auto& author = into_.documents.author; !author.empty() && !is_reference(author, authors))
      faults_.add(place_of("documents.author"), fmt::format("'documents.author' is \"{}\"", author), fmt::format("write {}/id", fmt::join(authors, "/id or ")));
    if (!access.token_url.empty())
      if (const auto url = parse_base_url(access.token_url); !url || (!url->https && !is_loopback(url->host)))
        faults_.add(place_of("access.token_url"), fmt::format("'access.token_url' is \"{}\", no https address", access.token_url), "write https://host/path");
  }

  /// "Group?identifier=system|value"; the system may be empty, the value not.
  static bool is_by_identifier(const std::string& text, const std::vector<std::string_view>& types) {
    const auto at = text.find("?identifier=");
    const auto bar = text.find('|', at);
    return at != std::string::npos && bar != std::string::npos && bar + 1 < text.size() && std::find(types.begin(), types.end(), text.substr(0, at)) != types.end();
  }

  void read_history() {
    if (!into_.record) return;
    for (const std::string& type : into_.record->history)
      if (type.empty() || !std::isupper(static_cast<unsigned char>(type.front())) || !std::all_of(type.begin(), type.end(), [](unsigned char c) { return std::isalpha(c); }))
        faults_.add(place_of("record.history"), fmt::format("'record.history' names \"{}\", no resource type", type), "write types, with ; between: Procedure;MedicationAdministration");
  }

  void read_categories() {
    if (!into_.record) return;
    for (const std::string& one : into_.record->categories) {
      const auto slash = one.find('/');
      const std::string_view type = std::string_view(one).substr(0, std::min(slash, one.size()));
      const bool known = type == "Observation" || type == "Condition" || type == "MedicationRequest";
      if (!known || slash == std::string::npos || slash + 1 == one.size() || one.back() == '|')
        faults_.add(place_of("record.categories"), fmt::format("'record.categories' names \"{}\"", one), "write Observation/code, Condition/code or MedicationRequest/code, or system|code after the /");
    }
  }

  void read_roster() {
    const auto& roster = into_.roster;
    const auto each = [&](const char* name, const std::string& text, const std::vector<std::string_view>& types) {
      for (std::size_t at = 0; at < text.size();) {
        const auto end = std::min(text.find(';', at), text.size());
        const auto first = text.find_first_not_of(' ', at), last = text.find_last_not_of(' ', end - 1);
        const auto one = first < end ? text.substr(first, last + 1 - first) : std::string();
        if (!one.empty() && !is_reference(one, types) && !(types.front() == "Group" && is_by_identifier(one, types)))
          faults_.add(place_of(name), fmt::format("'{}' names \"{}\"", name, one), fmt::format("write {}/id, with ; between several{}", fmt::join(types, "/id or "), types.front() == "Group" ? "; or Group?identifier=system|value" : ""));
        at = end + 1;
      }
    };
    each("roster.lists", roster.lists, {"Group", "List"});
    each("roster.locations", roster.locations, {"Location"});
    each("roster.appointments", roster.appointments, {"Location"});
    if (!into_.record && (!roster.lists.empty() || !roster.locations.empty() || !roster.appointments.empty() || !roster.file.empty()))
      faults_.add(place_of("roster.lists"), "[roster] without [record]", "name the record that is asked about these patients");
  }

  /// Its form only: "Location/ward-3".
  static bool is_reference(const std::string& text, const std::vector<std::string_view>& types) {
    const auto slash = text.find('/');
    if (slash == std::string::npos || slash + 1 == text.size() || text.size() - slash > 65) return false;
    if (std::find(types.begin(), types.end(), text.substr(0, slash)) == types.end()) return false;
    return std::all_of(text.begin() + static_cast<std::ptrdiff_t>(slash) + 1, text.end(), [](unsigned char c) { return std::isalnum(c) || c == '-' || c == '.'; });
  }

  void name_unknown() {
    std::vector<std::string> known, tables;
    for (const Key& key : configuration_keys()) {
      known.emplace_back(key.name);
      tables.emplace_back(table_and_name(key.name).first);
    }
    known.emplace_back("print.unit");
    known.emplace_back("site.unit");
    for (const Item& table : root_.items) {
      if (std::find(tables.begin(), tables.end(), table.key) == tables.end()) {
        faults_.unknown(table, tables, "");
      } else if (!table.is_table()) {
        faults_.add(table.at, fmt::format("'{}' is {}, not a table", table.key, tables::name_of(table.kind)), fmt::format("write [{}] and its keys below", table.key));
      } else {
        for (const Item& item : table.items)
          if (std::find(known.begin(), known.end(), fmt::format("{}.{}", table.key, item.key)) == known.end()) faults_.unknown(item, known, table.key);
      }
    }
  }

  void read_key(const Key& key) {
    const auto [table_name, name] = table_and_name(key.name);
    const Item* table = root_.find(table_name);
    if (table && !table->is_table()) return;
    const Item* item = table ? table->find(name) : nullptr;
    if (!item && key.fallback == "!") {
      faults_.add(table ? table->key_at : Place{}, fmt::format("'{}' is missing", key.name), fmt::format("add {} to [{}]: {}", name, table_name, key.reason));
      return;
    }
    if (item && item->kind != (key.number ? Kind::number : Kind::string)) {
      faults_.add(item->at, fmt::format("'{}' is {}", key.name, tables::name_of(item->kind)), key.number ? "write a whole number" : "write a string, in quotes");
      return;
    }
    take(key, item ? item->text : std::string{key.fallback}, item ? item->at : Place{});
  }

  void take(const Key& key, const std::string& value, Place at) {
    const auto refuse = [&](std::string_view what, std::string remedy) {
      faults_.add(at, fmt::format("'{}' is {}, {}", key.name, key.number ? value : fmt::format("\"{}\"", value), what), std::move(remedy));
    };
    if (key.number) return take_number(key, value, refuse);
    if (key.path) {
      fs::path& path = key.path(into_);
      if (value.empty() && !key.fallback.empty()) return refuse("empty", "name a path");
      if ((key.means == Means::output_path || key.means == Means::coming_file) && !value.empty()) path = below_file(value);
      if ((key.means == Means::secret_file || key.means == Means::coming_file) && value.starts_with("credential:")) path = value;
      else if ((key.means == Means::input_file || key.means == Means::secret_file) && !value.empty()) take_input(value, path, refuse);
      return;
    }
    if (key.texts) return void(key.texts(into_) = parts_of(value));
    if (const auto [what, remedy] = judge(key, value); !what.empty()) return refuse(what, remedy);
    key.text(into_) = value;
    if (key.means == Means::base_url) while (key.text(into_).ends_with('/')) key.text(into_).pop_back();
    if (key.means == Means::store_url && value.starts_with("sqlite:")) into_.store.path = below_file(value.substr(7));
  }

  template <class Refuse>
  void take_number(const Key& key, const std::string& value, const Refuse& refuse) {
    constexpr std::int64_t one = 1'000'000;
    const auto micro = tables::millionths(value);
    if (!micro || *micro % one != 0 || *micro / one < key.low || *micro / one > key.high)
      return refuse(micro ? "out of range" : "no plain number", fmt::format("write a whole number from {} to {}", key.low, key.high));
    key.number(into_) = *micro / one;
  }

  template <class Refuse>
  void take_input(const std::string& value, fs::path& into, const Refuse& refuse) {
    const auto found = find_input(value, file_, data_);
    if (!found || !fs::is_regular_file(*found))
      return refuse("a file that is not there", fmt::format("put it into {} or {}, or correct the path",
                                                            file_.parent_path().empty() ? "." : file_.parent_path().string(), data_.string()));
    into = *found;
  }

  /// What is wrong with a text value, and the remedy; both empty when nothing is.
  std::pair<std::string, std::string> judge(const Key& key, const std::string& value) const {
    switch (key.means) {
      case Means::choice:
        if (std::find(key.choices.begin(), key.choices.end(), value) == key.choices.end()) return {"not known", fmt::format("write one of {}", fmt::join(key.choices, ", "))};
        break;
      case Means::address: {
        const auto host = host_of_address(value);
        if (!host) return {"no address", "write host:port, as 127.0.0.1:8181"};
        if (!is_loopback(*host) && key.name != "listen.public") return {"not a loopback address", "listen on 127.0.0.1"};
        break;
      }
      case Means::base_url: {
        const auto url = parse_base_url(value);
        if (!url) return {"no base URL", "write https://host/path without user, query or fragment"};
        if (!url->https && !is_loopback(url->host)) return {"plain HTTP to another machine", "use https"};
        break;
      }
      case Means::zone:
        if (!zone_exists(value)) return {"not in the time zone database", "write an IANA name, as Europe/Berlin"};
        break;
      case Means::language:
        if (!has_templates(data_, value)) return {"a language without sentences", "write the name of a folder in templates/"};
        break;
      case Means::store_url: {
        const bool sqlite = value.starts_with("sqlite:") && value.size() > 7;
        if (!sqlite && !value.starts_with("postgresql://")) return {"no store", "write sqlite:path or postgresql://..."};
        break;
      }
      case Means::print_queue:
        return judge_queue(value, into_.print->unencrypted == "yes");
      default:
        break;
    }
    return {};
  }

  fs::path below_file(const std::string& value) const { return (file_.parent_path() / value).lexically_normal(); }

  const Item& root_;
  const fs::path& file_;
  const fs::path& data_;
  Configuration& into_;
  Faults& faults_;
};

}  // namespace

std::optional<fs::path> find_input(const fs::path& path, const fs::path& file, const fs::path& data) {
  std::error_code failed;
  for (const fs::path& folder : {file.parent_path(), data})
    if (const fs::path whole = (folder / path).lexically_normal(); fs::exists(whole, failed)) return whole;
  return std::nullopt;
}

LoadedConfiguration load_configuration(const fs::path& file, const fs::path& data) {
  tables::Document document = tables::read_file(file);
  if (!document.faults.empty()) return {{}, std::move(document.faults)};
  Faults faults{document.file};
  Configuration configuration;
  configuration.file = document.file;
  Reader{document.root, file, data, configuration, faults}.read();
  LoadedConfiguration loaded{{}, faults.take()};
  if (loaded.faults.empty()) loaded.configuration = std::move(configuration);
  return loaded;
}

}  // namespace profile
