"""The whole hall: several rows of furnaces with feed, fuel and product, stated in one spec."""
