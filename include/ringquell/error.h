// What goes wrong, and where: a place in a file, input errors, and warnings.
#pragma once

#include <stdexcept>
#include <string>

namespace ringquell {

/// A place in an input text; line and column count from 1, 0 where unknown. `file` may be "--set".
struct Place {
    std::string file;
    int line = 0;
    int column = 0;
    bool operator==(const Place&) const = default;
};

/// Where a value was read: no part of the value, so all are equal, and what holds one can compare by default.
struct Origin : Place {
    Origin() = default;
    Origin(const Place& place) : Place(place) {}
    bool operator==(const Origin&) const { return true; }
};

/// The input is wrong (exit status 2). what() reads
/// `file:line:column: key: what was found; expected what` with absent parts left out.
class InputError : public std::runtime_error {
  public:
    InputError(const Place& place, const std::string& key, const std::string& text);
    const Place& place() const { return place_; }
    const std::string& key() const { return key_; }
    /// What was found and what was expected, without place and key.
    const std::string& text() const { return text_; }

  private:
    Place place_;
    std::string key_;
    std::string text_;
};

/// The numbers cannot be trusted (exit status 3); what() says why.
class NumericalError : public std::runtime_error {
  public:
    using std::runtime_error::runtime_error;
};

/// Something legal but suspicious, or something the reader of a result must know.
struct Warning {
    std::string key;
    std::string text;
    bool operator==(const Warning&) const = default;
};

}  // namespace ringquell
