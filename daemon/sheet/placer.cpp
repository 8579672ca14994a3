#include "sheet/place.h"

namespace sheet {

Box moved(Box box, double dx, double dy) {
  struct Mover {
    double dx, dy;
    void operator()(Text& t) const { t.x += dx, t.y += dy; }
    void operator()(Bar& b) const { b.x += dx, b.y += dy; }
    void operator()(Stroke& s) const {
      for (Point& p : s.points) p.x += dx, p.y += dy;
    }
  };
  std::visit(Mover{dx, dy}, box);
  return box;
}

void Placer::add(Box box) {
  struct Mirror {
    double page;
    Shaper& shaper;
    void operator()(Text& t) const { t.x = page - t.x - shaper.width(t.text, t.weight, t.size); }
    void operator()(Bar& b) const { b.x = page - b.x - b.width; }
    void operator()(Stroke& s) const {
      for (Point& p : s.points) p.x = page - p.x;
    }
  };
  if (shift_) box = moved(std::move(box), *shift_, 0);
  else if (shaper_.direction() == Direction::right_to_left) std::visit(Mirror{page_, shaper_}, box);
  strip_.boxes.push_back(std::move(box));
}

Placer::Upright::Upright(Placer& placer, double x, double width) : placer_(placer), before_(placer.shift_) {
  if (!before_ && placer.shaper_.direction() == Direction::right_to_left) placer.shift_ = placer.page_ - width - 2 * x;
}

double Placer::text(double x, double y, double room, const std::string& text, const Style& style) {
  if (text.empty()) return y;
  for (auto& line : shaper_.lines(text, style.weight, style.size, room)) {
    add(Text{x, y + ascent(style.size), style.size, style.weight, std::move(line), style.shade});
    y += line_height(style.size);
  }
  return y;
}

void Placer::text_to(double right, double y, const std::string& text, const Style& style) {
  add(Text{right - shaper_.width(text, style.weight, style.size), y + ascent(style.size), style.size, style.weight, text, style.shade});
}

void Placer::centred(double middle, double y, const std::string& text, const Style& style) {
  text_to(middle + shaper_.width(text, style.weight, style.size) / 2, y, text, style);
}

}  // namespace sheet
