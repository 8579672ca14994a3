// What an operator must look at, by topic: a topic has one text, and is calm again when its cause has gone.
#pragma once

#include <map>
#include <string>
#include <vector>

namespace app {

class Alarms {
 public:
  void raise(const std::string& topic, const std::string& text) { texts_[topic] = text; }
  void calm(const std::string& topic) { texts_.erase(topic); }
  /// By topic.
  std::vector<std::string> texts() const {
    std::vector<std::string> all;
    for (const auto& [topic, text] : texts_) all.push_back(text);
    return all;
  }

 private:
  std::map<std::string, std::string> texts_;
};

}  // namespace app
