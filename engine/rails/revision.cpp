#include "holdfast/rails/rails.h"
