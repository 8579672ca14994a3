// The one table of what a configuration file may say.
#pragma once

#include <initializer_list>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "profile/configuration.h"

namespace profile {

enum class Means { text, choice, address, base_url, zone, language, input_file, secret_file, coming_file, output_path, store_url, print_queue, list, number };

struct Key {
  std::string_view name;      ///< "listen.public"
  Means means;
  std::string_view fallback;  ///< as it would be written, without quotes; "!" there is none: it must be said; "" empty
  /// Where it goes; a Record or Print field only where the configuration has a record, or prints.
  std::string& (*text)(Configuration&) = nullptr;
  std::filesystem::path& (*path)(Configuration&) = nullptr;
  std::int64_t& (*number)(Configuration&) = nullptr;
  std::int64_t low = 0, high = 0;          ///< inclusive, of numbers
  std::vector<std::string_view> choices;   ///< of a choice
  std::string_view reason;                 ///< what it is for and why the default
  std::vector<std::string>& (*texts)(Configuration&) = nullptr;  ///< of a list: parts between ';', without the blanks around them
};

std::span<const Key> configuration_keys();

}  // namespace profile
