#include "json/tree.h"

#include <rapidjson/prettywriter.h>
#include <rapidjson/stringbuffer.h>
#include <rapidjson/writer.h>

namespace json {
namespace {

rapidjson::SizeType size_of(std::string_view text) { return static_cast<rapidjson::SizeType>(text.size()); }

template <class Writer>
void emit(Writer& writer, const Value& value) {
  switch (value.kind()) {
    case Kind::null: writer.Null(); break;
    case Kind::boolean: writer.Bool(*value.boolean()); break;
    case Kind::number: writer.RawValue(value.digits().data(), value.digits().size(), rapidjson::kNumberType); break;
    case Kind::string: writer.String(value.text().data(), size_of(value.text())); break;
    case Kind::array:
      writer.StartArray();
      for (const auto& item : value.items()) emit(writer, item);
      writer.EndArray();
      break;
    case Kind::object:
      writer.StartObject();
      for (const auto& [name, child] : value.members()) {
        writer.Key(name.data(), size_of(name));
        emit(writer, child);
      }
      writer.EndObject();
      break;
  }
}

}  // namespace

std::string write(const Value& value) {
  rapidjson::StringBuffer buffer;
  rapidjson::Writer<rapidjson::StringBuffer> writer(buffer);
  emit(writer, value);
  return {buffer.GetString(), buffer.GetSize()};
}

std::string write_pretty(const Value& value) {
  rapidjson::StringBuffer buffer;
  rapidjson::PrettyWriter<rapidjson::StringBuffer> writer(buffer);
  writer.SetIndent(' ', 2);
  emit(writer, value);
  return {buffer.GetString(), buffer.GetSize()};
}

}  // namespace json
