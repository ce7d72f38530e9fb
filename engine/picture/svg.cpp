#include "holdfast/picture/write.h"
namespace holdfast::picture { Sheet svg(const Picture&) { return {}; } }
